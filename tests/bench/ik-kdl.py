"""The path of ik.mjs solved by a general-purpose library, Debian's python3-pykdl (ChainIkSolverPos_LMA), warm-started."""
import json
import sys
import time

import PyKDL as kdl


def frame(pose):
    return kdl.Frame(kdl.Rotation.RPY(*pose["turn"]), kdl.Vector(*pose["at"]))


with open(sys.argv[1]) as file:
    job = json.load(file)
chain = kdl.Chain()
chain.addSegment(kdl.Segment(kdl.Joint("base", kdl.Joint.Fixed), frame(job["base"])))
for i, joint in enumerate(job["joints"]):
    origin = frame(joint["origin"])
    axis = origin.M * kdl.Vector(*joint["axis"])
    chain.addSegment(kdl.Segment(kdl.Joint("j%d" % i, origin.p, axis, kdl.Joint.RotAxis), origin))
chain.addSegment(kdl.Segment(kdl.Joint("tool", kdl.Joint.Fixed), frame(job["tool"])))
solver = kdl.ChainIkSolverPos_LMA(chain, 1e-9, 500, 1e-15)
targets = [kdl.Frame(kdl.Rotation(*t[:9]), kdl.Vector(*t[9:])) for t in job["targets"]]
q = kdl.JntArray(len(job["joints"]))
for i, x in enumerate(job["park"]):
    q[i] = x
solution = kdl.JntArray(len(job["joints"]))
best = 0.0
for _ in range(3):
    start = time.perf_counter()
    for target in targets:
        if solver.CartToJnt(q, target, solution) != 0:
            sys.exit("not solved")
        q, solution = solution, q
    best = max(best, len(targets) / (time.perf_counter() - start))
print(json.dumps({"solvesPerSecond": best}))
