/**
 * Arms as chains of a general-purpose library, for tests that compare kinematics and dynamics with it: the Orocos Kinematics and
 * Dynamics Library, Debian's python3-pykdl, in Debian's own Python.
 */
import { python } from './python.js'

/**
 * `Arm` takes `base`, `joints` (origin, axis; body and rotor of the train where they have them), `tool` with its pose, and what is
 * `held` in the tool's frame, or nothing. Loads: force and moment about the tool's origin, in the axes that the base is given in.
 */
const ARM = `
import json, sys
import PyKDL as kdl

def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))

def array(q):
    a = kdl.JntArray(len(q))
    for i, x in enumerate(q):
        a[i] = x
    return a

def inertia(b):
    if b is None:
        return kdl.RigidBodyInertia(0)
    return kdl.RigidBodyInertia(b['mass'], kdl.Vector(*b['centre']), kdl.RotationalInertia(*b['inertia']))

# Standard acceleration of free fall: 3rd CGPM (1901).
FREE_FALL = (0, 0, -9.80665)

class Arm:
    def __init__(self, arm, gravity=FREE_FALL):
        self.chain = kdl.Chain()
        fixed = lambda name: kdl.Joint(name, kdl.Joint.Fixed)
        self.chain.addSegment(kdl.Segment(fixed('base'), frame(arm['base'])))
        for i, joint in enumerate(arm['joints']):
            origin = frame(joint['origin'])
            axis = origin.M * kdl.Vector(*joint['axis'])
            rotor = joint.get('train', {}).get('rotor', 0)
            turning = kdl.Joint('j%d' % i, origin.p, axis, kdl.Joint.RotAxis, 1, 0, rotor)
            self.chain.addSegment(kdl.Segment(turning, origin, inertia(joint.get('body'))))
        self.chain.addSegment(kdl.Segment(fixed('tool'), frame(arm['tool']['pose']), inertia(arm.get('held'))))
        self.n = len(arm['joints'])
        self.forward = kdl.ChainFkSolverPos_recursive(self.chain)
        self.inverse = kdl.ChainIdSolver_RNE(self.chain, kdl.Vector(*gravity))
        self.parameters = kdl.ChainDynParam(self.chain, kdl.Vector(*gravity))

    def place(self, q):
        f = kdl.Frame()
        assert self.forward.JntToCart(array(q), f) == 0
        return f

    def torques(self, q, qd, qdd, load):
        push = [kdl.Wrench.Zero()] * self.chain.getNrOfSegments()
        push[-1] = self.place(q).M.Inverse() * kdl.Wrench(kdl.Vector(*load[:3]), kdl.Vector(*load[3:]))
        out = kdl.JntArray(self.n)
        assert self.inverse.CartToJnt(array(q), array(qd), array(qdd), push, out) == 0
        return [out[i] for i in range(self.n)]

    def gravity(self, q):
        out = kdl.JntArray(self.n)
        assert self.parameters.JntToGravity(array(q), out) == 0
        return [out[i] for i in range(self.n)]

    def mass(self, q):
        out = kdl.JntSpaceInertiaMatrix(self.n)
        assert self.parameters.JntToMass(array(q), out) == 0
        return [out[i, j] for i in range(self.n) for j in range(self.n)]

job = json.load(sys.stdin)
`

/** @param script has `Arm`, the helpers above and `job`, and writes `json.dump(result, sys.stdout)` */
export function kdl<Result>(script: string, job: unknown): Result {
  return python(ARM + script, job)
}
