#include "rimstance/stance/contacts.hpp"

#include <cmath>

#include "footing.hpp"
#include "rimstance/base/errors.hpp"

namespace rimstance {

std::vector<Contact> contacts(const Machine& machine, const Terrain& terrain, const Levelling& levelling,
                              std::span<const double> splay, double under) {
  expects(splay.size() == machine.outriggers.size() && levelling.stroke.size() == splay.size(),
          "contacts: one splay and one stroke per outrigger");
  const double under_W = under - terrain.map_offset.z();
  const Mat3& R = levelling.X_WC.R;
  underside::Scratch scratch;
  std::vector<Contact> list;
  for (std::size_t i = 0; i < splay.size(); ++i) {
    const Outrigger& o = machine.outriggers[i];
    const double stroke = std::isfinite(levelling.stroke[i]) ? levelling.stroke[i] : 0.0;
    const Vec2 at_W = levelling.X_WC.p.head<2>() + (R * foot(o, splay[i], stroke)).head<2>();
    const Footing f = footing(terrain, o, at_W, under_W, scratch);
    Contact c;
    c.name = o.name;
    c.p_W = Vec3(at_W.x(), at_W.y(), f.rest);
    c.patch = f.patch;
    c.supported = f.supported;
    c.reason = unsupported_reason(terrain, f, at_W, under_W);
    if (f.supported) {
      c.p_C = R.transpose() * (c.p_W - levelling.X_WC.p);
      c.normal_W = f.normal;
      c.pad_tilt_exceeded = f.at_tilt_limit;
    }
    list.push_back(c);
  }
  return list;
}

}  // namespace rimstance
