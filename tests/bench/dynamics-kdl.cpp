/**
 * The reference of dynamics.mjs: the same arm, states and path in the Orocos Kinematics and Dynamics Library, in C++.
 *
 * Numbers on standard input: joints; base pose; for each joint its pose, axis, rotor and body; tool pose and body; gravity;
 * count of states and their q, qd, qdd; count of targets, where to start, and the targets. A pose is a rotation matrix row by
 * row and a position, a body is mass, centre and inertia. One line of JSON for each thing measured: how many a second, and the
 * sum of all results, or for inverse kinematics the worst error left.
 */
#include <cmath>
#include <cstdio>
#include <ctime>
#include <iostream>
#include <kdl/chain.hpp>
#include <kdl/chaindynparam.hpp>
#include <kdl/chainfdsolver_recursive_newton_euler.hpp>
#include <kdl/chainfksolverpos_recursive.hpp>
#include <kdl/chainidsolver_recursive_newton_euler.hpp>
#include <kdl/chainiksolverpos_lma.hpp>
#include <kdl/chainiksolverpos_nr.hpp>
#include <kdl/chainiksolvervel_pinv.hpp>
#include <kdl/chainiksolvervel_pinv_givens.hpp>
#include <kdl/chainiksolvervel_wdls.hpp>
#include <kdl/chainjnttojacsolver.hpp>
#include <vector>

using namespace KDL;

static double number() {
  double x;
  if (!(std::cin >> x)) throw std::runtime_error("the job ends too early");
  return x;
}

static Vector vector() {
  const double x = number(), y = number(), z = number();
  return Vector(x, y, z);
}

static Frame frame() {
  double r[9];
  for (double &x : r) x = number();
  const Rotation turn(r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], r[8]);
  return Frame(turn, vector());
}

static RigidBodyInertia body() {
  const double mass = number();
  const Vector centre = vector();
  double i[6];
  for (double &x : i) x = number();
  return RigidBodyInertia(mass, centre, RotationalInertia(i[0], i[1], i[2], i[3], i[4], i[5]));
}

static JntArray array(unsigned n) {
  JntArray a(n);
  for (unsigned i = 0; i < n; i++) a(i) = number();
  return a;
}

/** Passes for a quarter of a second of processor time; how many things a second. */
template <class Pass> static double rate(size_t things, Pass pass) {
  pass();
  const std::clock_t start = std::clock();
  double seconds = 0;
  size_t passes = 0;
  do {
    pass();
    passes++;
    seconds = double(std::clock() - start) / CLOCKS_PER_SEC;
  } while (seconds < 0.25);
  return passes * things / seconds;
}

static void tell(const char *what, double perSecond, const char *key, double value) {
  std::printf("{\"what\":\"%s\",\"perSecond\":%.17g,\"%s\":%.17g}\n", what, perSecond, key, value);
}

int main() {
  const unsigned n = unsigned(number());
  Chain chain;
  chain.addSegment(Segment(Joint(Joint::Fixed), frame()));
  for (unsigned i = 0; i < n; i++) {
    const Frame origin = frame();
    const Vector axis = origin.M * vector();
    const double rotor = number();
    chain.addSegment(Segment(Joint(origin.p, axis, Joint::RotAxis, 1, 0, rotor), origin, body()));
  }
  const Frame tool = frame();
  chain.addSegment(Segment(Joint(Joint::Fixed), tool, body()));
  const Vector gravity = vector();
  const size_t states = size_t(number());
  std::vector<JntArray> q, qd, qdd;
  for (size_t k = 0; k < states; k++) {
    q.push_back(array(n));
    qd.push_back(array(n));
    qdd.push_back(array(n));
  }
  const size_t count = size_t(number());
  const JntArray park = array(n);
  std::vector<Frame> targets;
  for (size_t k = 0; k < count; k++) targets.push_back(frame());

  double sum = 0;
  double speed;
  ChainFkSolverPos_recursive forward(chain);
  ChainJntToJacSolver jacobians(chain);
  Frame blade;
  Jacobian jacobian(n);
  speed = rate(states, [&] {
    sum = 0;
    for (size_t k = 0; k < states; k++) {
      forward.JntToCart(q[k], blade);
      jacobians.JntToJac(q[k], jacobian);
      sum += blade.p.x() + blade.p.y() + blade.p.z() + jacobian.data.sum();
    }
  });
  tell("forward kinematics and Jacobian", speed, "sum", sum);

  ChainIdSolver_RNE inverse(chain, gravity);
  const Wrenches none(chain.getNrOfSegments(), Wrench::Zero());
  JntArray tau(n), out(n);
  speed = rate(states, [&] {
    sum = 0;
    for (size_t k = 0; k < states; k++) {
      inverse.CartToJnt(q[k], qd[k], qdd[k], none, tau);
      sum += tau.data.sum();
    }
  });
  tell("inverse dynamics", speed, "sum", sum);

  ChainDynParam parameters(chain, gravity);
  JntSpaceInertiaMatrix mass(n);
  speed = rate(states, [&] {
    sum = 0;
    for (size_t k = 0; k < states; k++) {
      parameters.JntToMass(q[k], mass);
      sum += mass.data.sum();
    }
  });
  tell("mass matrix", speed, "sum", sum);

  ChainFdSolver_RNE motion(chain, gravity);
  speed = rate(states, [&] {
    sum = 0;
    for (size_t k = 0; k < states; k++) {
      motion.CartToJnt(q[k], qd[k], qdd[k], none, out);
      sum += out.data.sum();
    }
  });
  tell("forward dynamics", speed, "sum", sum);

  std::vector<JntArray> found(count, JntArray(n));
  const auto follow = [&](const char *what, ChainIkSolverPos &solver) {
    size_t unsolved = 0;
    const double perSecond = rate(count, [&] {
      unsolved = 0;
      const JntArray *from = &park;
      for (size_t k = 0; k < count; k++) {
        if (solver.CartToJnt(*from, targets[k], found[k]) < 0) unsolved++;
        from = &found[k];
      }
    });
    double worst = unsolved > 0 ? INFINITY : 0;
    for (size_t k = 0; k < count; k++) {
      forward.JntToCart(found[k], blade);
      const Twist left = diff(blade, targets[k]);
      for (int i = 0; i < 6; i++) worst = std::max(worst, std::abs(left[i]));
    }
    if (std::isfinite(worst)) tell(what, perSecond, "worst", worst);
  };
  // To the accuracy of ours, 1e-12. The weights of the first make metres and radians count the same, as in the others.
  Eigen::Matrix<double, 6, 1> even = Eigen::Matrix<double, 6, 1>::Ones();
  ChainIkSolverPos_LMA lma(chain, even, 1e-12, 100, 1e-15);
  follow("inverse kinematics: ChainIkSolverPos_LMA", lma);
  ChainIkSolverVel_pinv pinv(chain);
  ChainIkSolverPos_NR newton(chain, forward, pinv, 100, 1e-12);
  follow("inverse kinematics: ChainIkSolverPos_NR, ChainIkSolverVel_pinv", newton);
  ChainIkSolverVel_pinv_givens givens(chain);
  ChainIkSolverPos_NR rotated(chain, forward, givens, 100, 1e-12);
  follow("inverse kinematics: ChainIkSolverPos_NR, ChainIkSolverVel_pinv_givens", rotated);
  ChainIkSolverVel_wdls damped(chain);
  ChainIkSolverPos_NR weighted(chain, forward, damped, 100, 1e-12);
  follow("inverse kinematics: ChainIkSolverPos_NR, ChainIkSolverVel_wdls", weighted);
}
