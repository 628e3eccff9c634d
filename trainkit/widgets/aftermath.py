"""What is said once something is broken: the way back begins with making safe, not with trying again."""

FIRST_SAFE = "First make the engine safe. Do not touch the bar, the pin or the starter."
MADE_SAFE = (
    "Everybody is clear, the sources of energy are locked out and proved, and the person in charge knows. "
    "On a real engine the case is now opened. What is damaged is renewed by the manufacturer's manual."
)
MAKE_SAFE = "Make the engine safe"
SOUND = "Begin again with a sound engine"
AFTER_A_WRECK = (FIRST_SAFE, MAKE_SAFE, MADE_SAFE, SOUND)
"""What is said first, the button for it, what is said then, and the button that begins again."""
