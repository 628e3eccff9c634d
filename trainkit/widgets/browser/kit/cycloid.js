// The rotors of a pump whose inner one has one tooth less, or a few, than the ring round it: involute teeth would cut
// into each other there. Their lobes are arcs of cycloids: epicycloids outside the pitch circle, hypocycloids inside.

const STEPS = 14; // points of an arc

/**
 * The outline of a rotor, or of the hollow of its ring, a lobe (or a space of the ring) on the x axis.
 * @param {number} teeth
 * @param {number} radius of the pitch circle
 * @returns {[x: number, y: number][]}
 */
export function lobes(teeth, radius) {
  const small = radius / teeth / 2; // the circle that rolls: a lobe and a space are one turn of it each
  const whole = Math.PI / teeth; // of the pitch circle, for one of them
  /** @type {[number, number][]} */
  const points = [];
  for (let number = 0; number < 2 * teeth; number++) {
    const out = number % 2 ? -1 : 1;
    const far = radius + out * small;
    const turn = (number - 0.5) * whole;
    for (let step = 0; step < STEPS; step++) {
      const at = (step / STEPS) * whole;
      const rolled = (far / small) * at;
      const x = far * Math.cos(at) - out * small * Math.cos(rolled);
      const y = far * Math.sin(at) - small * Math.sin(rolled);
      points.push([x * Math.cos(turn) - y * Math.sin(turn), x * Math.sin(turn) + y * Math.cos(turn)]);
    }
  }
  return points;
}
