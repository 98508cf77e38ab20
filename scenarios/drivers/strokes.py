"""A driver to copy: it paddles the demo rig's arms. Python's standard library alone.

One JSON object comes on each line of standard input, one goes out on each line of standard output. Words for people go to
standard error. What the arms look like (lengths, side, track) this file states for itself, as a driver does.
"""
import json
import sys
from math import acos, atan2, cos, hypot, pi, radians, sin, tanh

TRACK = 2.0  # m, between the two blade lines
WATER = -0.3  # m, z of the surface in the craft frame: x forward, y to port, z up
LENGTH = 0.6  # m, of the stroke
CENTRE = 0.03  # m, of the blade's way up and down, above the water
HEIGHT = 0.14  # m, half of that way
LEAN = radians(10)  # tilt of the shaft, tip outboard
UPPER, FOREARM, PADDLE = 0.35, 0.35, 0.6  # m: shoulder to elbow, elbow to wrist, wrist to blade
RAMP = 0.4  # m/s2, of a side's speed
SMOOTH = 0.15  # s, twice
DWELL = 1.0  # s at rest, then the blade is lifted
LIFT = 2.5  # s
TOP = 1.5 * pi  # of the stroke's angle: the blade is in the middle of its way back, farthest above the water


def clamp(value, least, most):
    return max(least, min(most, value))


def eased(p):
    return p**3 * (10 + p * (6 * p - 15))


def joints(sign, x, z):
    """Joints of an arm with its blade at x, z: swing, shoulder, elbow, then a wrist whose three axes meet.

    sign: 1 to port, -1 to starboard
    """
    # From the shoulder, in the craft frame: the shaft's direction to the tip, and where the wrist is.
    shaft = (0.0, sign * sin(LEAN), -cos(LEAN))
    ahead = x - PADDLE * shaft[0]
    across = sign * TRACK / 2 - PADDLE * shaft[1] - sign * 0.5
    above = z - PADDLE * shaft[2] - 0.12
    yaw = atan2(across, ahead)
    out = hypot(ahead, across)
    elbow = acos((out**2 + above**2 - UPPER**2 - FOREARM**2) / (2 * UPPER * FOREARM))
    shoulder = atan2(out, above) - atan2(FOREARM * sin(elbow), UPPER + FOREARM * cos(elbow))
    bent = shoulder + elbow

    def in_forearm(a, b, c):
        """About the vertical by -yaw, then about y by -bent."""
        along, sideways = cos(yaw) * a + sin(yaw) * b, cos(yaw) * b - sin(yaw) * a
        return cos(bent) * along - sin(bent) * c, sideways, sin(bent) * along + cos(bent) * c

    s = in_forearm(*shaft)
    # The face that pushes looks aft: it is the blade's y axis to port, and against it to starboard.
    y = in_forearm(-sign, 0.0, 0.0)
    x_z = y[0] * s[1] - y[1] * s[0]  # z of the blade's x axis, y cross shaft
    swing = yaw - sign * pi / 2
    return [
        atan2(sin(swing), cos(swing)),
        shoulder,
        elbow,
        atan2(s[1], s[0]),
        acos(clamp(s[2], -1.0, 1.0)),
        atan2(y[2], -x_z),
    ]


class Side:
    """One side: its speed, its place in the stroke, how far its blade is lifted."""

    def __init__(self, sign):
        self.sign = sign
        self.begin()

    def begin(self):
        self.ramped = self.half = self.speed = self.still = 0.0
        self.angle = TOP
        self.lifted = 1.0
        self.parked = True

    def step(self, asked, dt):
        """asked: m/s; returns rad"""
        self.still = self.still + dt if asked == 0 and abs(self.speed) < 0.005 else 0.0
        goes_up = asked == 0 and (self.still > DWELL or self.lifted == 1)
        self.lifted = clamp(self.lifted + (dt if goes_up else -dt) / LIFT, 0.0, 1.0)
        # Lifted whole it is where the top of the stroke is: from there it goes on without a way down.
        if self.lifted == 1 or self.parked:
            self.angle, self.lifted = TOP, 1.0 if goes_up else 0.0
        self.parked = self.lifted == 1
        # In the water first, then on.
        due = 0.0 if self.lifted > 0 else asked
        self.ramped += clamp(due - self.ramped, -RAMP * dt, RAMP * dt)
        self.half += (self.ramped - self.half) * dt / SMOOTH
        self.speed += (self.half - self.speed) * dt / SMOOTH
        # x = LENGTH/2 cos(angle): in the drive the blade goes aft as fast as the side goes ahead. Near the ends, where the
        # angle would have to leap, it goes a little slower; the way back is not endless when the speed is small.
        sine = sin(self.angle)
        drive = 1.13 * self.speed / (LENGTH / 2) / hypot(sine, 0.5)
        back = 1.5 * max(0.0, -sine) ** 2 * tanh(self.speed / 0.05)
        self.angle += (drive + back) * dt
        # First out of the water, then to the middle.
        up = eased(min(1.0, 2 * self.lifted))
        across = eased(max(0.0, 2 * self.lifted - 1))
        x = (1 - across) * LENGTH / 2 * cos(self.angle)
        z = WATER + CENTRE - HEIGHT * ((1 - up) * sin(self.angle) - up)
        return joints(self.sign, x, z)


def say(message):
    print(json.dumps(message), flush=True)


def main():
    sides = [Side(1), Side(-1)]
    period = 0.005
    for line in sys.stdin:
        told = json.loads(line)
        if "hello" in told:
            period = told["every"]
            print(f"paddling {told['rig']}, every {1000 * period:g} ms", file=sys.stderr, flush=True)
            # Where it stands when nothing is asked of it.
            say({"ready": 1, "park": [q for side in sides for q in side.step(0.0, 0.0)]})
        elif "begin" in told:
            for side in sides:
                side.begin()
        elif "bye" in told:
            break
        else:
            # No surge and no yaw: commands have ceased, and the craft has to come to rest.
            surge, yaw = told.get("surge", 0.0), told.get("yaw", 0.0)
            asked = [surge - side.sign * yaw * TRACK / 2 for side in sides]
            setpoints = [q for side, v in zip(sides, asked) for q in side.step(v, period)]
            say({"n": told["n"], "setpoints": setpoints})


if __name__ == "__main__":
    main()
