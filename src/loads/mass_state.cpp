#include "rimstance/loads/mass_state.hpp"

#include <cmath>

namespace rimstance {

MassState mass_state(const MachineLoads& loads, const CraneState& state, bool payload_hangs) {
  LoadCase basic;
  basic.payload = payload_hangs;
  MassState out;
  Vec3 moment = Vec3::Zero();
  const auto add = [&](const Vec3& p_C, double mass) {
    out.mass += mass;
    moment += mass * p_C;
  };
  const Platform& platform = loads.machine.platform;
  const auto place = [&](const Vec3& p, bool turns) {
    return turns ? on_platform(platform, p, state.slew) : p;
  };
  for (const Lump& l : loads.lumps)
    add(place(l.at_travel(state.travel), l.on_platform), l.mass_at(state.line, state.units_left));
  const Boom& boom = loads.machine.boom;
  const Vec3 along(std::cos(state.luff), 0, std::sin(state.luff));
  for (int k = 0; k < loads.boom->parts(); ++k) {
    const BoomPart part = loads.boom->part(k, state.extension);
    add(place(boom.foot + part.moment / part.mass * along, true), part.mass);
  }
  if (const double rest = loads.boom->in_magazine(state.extension); rest > 0)
    add(place(boom.magazine, true), rest);
  const Hung load = hung(basic, loads.machine.hoist, loads.payload, true);
  const double hanging = load.fixed + load.per_line * state.line;
  const Vec3 tip = place(tip_S(boom, *loads.boom, state.luff, state.extension), true);
  add(tip, hanging);
  out.hanging = hanging;
  out.tipping_centre_C = moment / out.mass;
  return out;
}

}  // namespace rimstance
