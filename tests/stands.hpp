#pragma once
#include <random>
#include <vector>

#include "rimstance/loads/parts.hpp"
#include "rimstance/stance/contacts.hpp"
#include "rimstance/statics/support_polygon.hpp"

// Stances for tests: contacts placed by hand, no terrain.
namespace rimstance::stands {

inline Contact at(const Vec3& p_W, bool supported = true) {
  Contact c;
  c.p_W = c.p_C = p_W;
  c.supported = supported;
  return c;
}

inline std::vector<Contact> at(std::initializer_list<Vec3> points) {
  std::vector<Contact> out;
  for (const Vec3& p : points) out.push_back(at(p));
  return out;
}

inline std::vector<double> splay(const Machine& machine) {
  std::vector<double> out;
  for (const Outrigger& o : machine.outriggers) out.push_back(o.splay);
  return out;
}

/// Feet of a machine at given strokes, chassis at a pose.
inline std::vector<Contact> feet(const Machine& machine, const std::vector<double>& stroke,
                                 const Pose& X_WC) {
  std::vector<Contact> out;
  for (std::size_t i = 0; i < machine.outriggers.size(); ++i) {
    Contact c;
    c.name = machine.outriggers[i].name;
    c.p_C = foot(machine.outriggers[i], machine.outriggers[i].splay, stroke[i]);
    c.p_W = X_WC * c.p_C;
    c.supported = true;
    out.push_back(c);
  }
  return out;
}

}  // namespace rimstance::stands
