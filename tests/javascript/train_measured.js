// Reads trains as the kernel sends them, turns them, and prints what of it is measured; a test in Python reads that.

import { readFileSync } from "node:fs";
import process from "node:process";

import { Gearing } from "../../trainkit/widgets/browser/train/gearing.js";
import { Turning } from "../../trainkit/widgets/browser/train/motion.js";
import { freedom } from "./measured.js";

/** @type {{ shown: any, size: number, drives: [gear: string, to: number][] }[]} */
const cases = JSON.parse(readFileSync(process.argv[2], "utf-8"));
const results = cases.map(({ shown, size, drives }) => {
  const turning = new Turning(shown);
  turning.resize(size);
  const gearing = new Gearing(shown, turning);
  return drives.map(([gear, to]) => {
    turning.hold(gear);
    turning.drive(to);
    return {
      angles: Object.fromEntries(gearing.gears.map((each) => [each.id, turning.angle(each.id)])),
      drawn: Object.fromEntries(gearing.gears.map((each) => [each.id, gearing.angle(each) - gearing.phase(each)])),
      meshes: gearing.meshes.map((mesh) => {
        const { ahead, behind } = freedom(gearing, mesh);
        const driven = mesh.driven.id;
        // Looked at from a ring, what is free is free in degrees of the ring.
        const ring = mesh.inside && gearing.place(mesh.driver).inside ? mesh.driver.id : driven;
        return { driven, seen: ring, ahead, behind, points: gearing.contact(mesh).points.length };
      }),
    };
  });
});
process.stdout.write(JSON.stringify(results));
