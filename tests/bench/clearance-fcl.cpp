/**
 * The reference of clearance.mjs: distances of the same bodies in the same poses by the Flexible Collision Library, in C++.
 *
 * Numbers on standard input: bodies, each its shape (0 capsule: radius; 1 box: rounding and three sizes); pairs, two bodies each; poses,
 * and of each pose and each body a rotation matrix row by row, a position and the length of a capsule's line. One line of JSON:
 * pairs a second of processor time, poses a second with all pairs, and the sum of all distances.
 */
#include <cstdio>
#include <ctime>
#include <fcl/fcl.h>
#include <iostream>
#include <memory>
#include <vector>

static double number() {
  double x;
  if (!(std::cin >> x)) throw std::runtime_error("the job ends too early");
  return x;
}

struct Body {
  bool box;
  double radius;
  std::shared_ptr<fcl::CollisionGeometryd> shape;
};

int main() {
  // A cast in round brackets would declare a function.
  std::vector<Body> bodies(static_cast<size_t>(number()));
  for (Body &b : bodies) {
    b.box = number() != 0;
    b.radius = number();
    if (!b.box) continue;
    const double x = number(), y = number(), z = number();
    b.shape = std::make_shared<fcl::Boxd>(x, y, z);
  }
  std::vector<std::pair<int, int>> pairs(static_cast<size_t>(number()));
  for (auto &p : pairs) {
    p.first = int(number());
    p.second = int(number());
  }
  const size_t poses = size_t(number());
  std::vector<std::vector<fcl::Transform3d>> places(poses);
  std::vector<fcl::CollisionObjectd> objects;
  for (size_t k = 0; k < poses; k++) {
    for (Body &b : bodies) {
      fcl::Transform3d t = fcl::Transform3d::Identity();
      for (int i = 0; i < 9; i++) t.linear()(i / 3, i % 3) = number();
      for (int i = 0; i < 3; i++) t.translation()[i] = number();
      const double length = number();
      if (b.shape == nullptr) b.shape = std::make_shared<fcl::Capsuled>(b.radius, length);
      places[k].push_back(t);
    }
  }
  for (Body &b : bodies) objects.emplace_back(b.shape);

  fcl::DistanceRequestd request;
  double sum = 0;
  const auto pass = [&] {
    sum = 0;
    for (size_t k = 0; k < poses; k++) {
      for (size_t i = 0; i < bodies.size(); i++) objects[i].setTransform(places[k][i]);
      for (const auto &[a, b] : pairs) {
        fcl::DistanceResultd result;
        fcl::distance(&objects[a], &objects[b], request, result);
        sum += result.min_distance - (bodies[a].box ? bodies[a].radius : 0) - (bodies[b].box ? bodies[b].radius : 0);
      }
    }
  };
  pass();
  const std::clock_t start = std::clock();
  double seconds = 0;
  size_t passes = 0;
  do {
    pass();
    passes++;
    seconds = double(std::clock() - start) / CLOCKS_PER_SEC;
  } while (seconds < 0.25);
  const double perSecond = passes * poses / seconds;
  std::printf("{\"pairs\":%.17g,\"poses\":%.17g,\"sum\":%.17g}\n", perSecond * pairs.size(), perSecond, sum);
}
