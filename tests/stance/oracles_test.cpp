// Foot forces against programs that know nothing of springs: a linear programme (GLPK) says which forces
// statics admits at all, a rigid-body simulator (MuJoCo) what three feet carry and when a body goes over.
#include <glpk.h>
#include <mujoco/mujoco.h>

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <memory>
#include <optional>
#include <string>

#include "cases.hpp"
#include "rimstance/stance/reactions.hpp"
#include "stance/draw.hpp"

namespace rimstance {
namespace {

struct Load {
  double W, x, y;
  Vec6 wrench_at_origin() const { return wrench(Vec3(0, 0, -W), Vec3(x, y, 1)); }
};

/// Least (or greatest) force that contact `which` may carry in any balance without pull; nothing if there
/// is no balance. Forces as shares of the weight.
std::optional<double> extreme_share(const std::vector<Vec3>& contacts, const Load& load, int which,
                                    bool greatest) {
  const std::unique_ptr<glp_prob, decltype(&glp_delete_prob)> lp(glp_create_prob(), glp_delete_prob);
  const int n = static_cast<int>(contacts.size());
  glp_set_obj_dir(lp.get(), greatest ? GLP_MAX : GLP_MIN);
  glp_add_rows(lp.get(), 3);
  glp_add_cols(lp.get(), n);
  const double rhs[] = {1, load.x, load.y};
  for (int r = 0; r < 3; ++r) glp_set_row_bnds(lp.get(), r + 1, GLP_FX, rhs[r], rhs[r]);
  for (int i = 0; i < n; ++i) {
    const Vec3& c = contacts[static_cast<std::size_t>(i)];
    const int rows[] = {0, 1, 2, 3};
    const double column[] = {0, 1, c.x(), c.y()};
    glp_set_mat_col(lp.get(), i + 1, 3, rows, column);
    glp_set_col_bnds(lp.get(), i + 1, GLP_LO, 0, 0);
    glp_set_obj_coef(lp.get(), i + 1, i == which ? 1 : 0);
  }
  glp_smcp how;
  glp_init_smcp(&how);
  how.msg_lev = GLP_MSG_OFF;
  how.tol_bnd = how.tol_dj = 1e-9;
  if (glp_simplex(lp.get(), &how) != 0 || glp_get_status(lp.get()) != GLP_OPT) return {};
  return glp_get_obj_val(lp.get());
}

std::vector<Support> drawn_supports(Draw& draw, std::size_t n) {
  std::vector<Support> s(n);
  for (Support& one : s) one.stiffness = std::pow(10, draw.in(4, 6)), one.gap = draw.in(-0.005, 0.005);
  return s;
}

// ---- MuJoCo --------------------------------------------------------------------------------------

struct Simulation {
  std::unique_ptr<mjModel, decltype(&mj_deleteModel)> model{nullptr, mj_deleteModel};
  std::unique_ptr<mjData, decltype(&mj_deleteData)> data{nullptr, mj_deleteData};
};

/// A rigid body on small balls above a plane: its mass sits at one point (inertia of a ball of 0.5 m), the
/// feet hang below on massless legs.
Simulation body_on_feet(const std::vector<Vec3>& feet, double mass, const Vec3& centre, double gravity) {
  const double r = 0.02;
  std::string xml = "<mujoco><option timestep='0.002' gravity='0 0 " + std::to_string(-gravity) +
                    "'/><worldbody><geom type='plane' size='50 50 1' friction='1 0 0'/>"
                    "<body pos='0 0 " +
                    std::to_string(r) + "'><freejoint/><inertial mass='" + std::to_string(mass) + "' pos='";
  for (const double v : {centre.x(), centre.y(), centre.z()}) xml += std::to_string(v) + " ";
  const double inertia = 0.4 * mass * 0.25;
  xml += "' diaginertia='";
  for (int k = 0; k < 3; ++k) xml += std::to_string(inertia) + " ";
  xml += "'/>";
  for (const Vec3& f : feet)
    xml += "<geom type='sphere' friction='1 0 0' size='" + std::to_string(r) + "' pos='" +
           std::to_string(f.x()) + " " + std::to_string(f.y()) + " 0'/>";
  xml += "</body></worldbody></mujoco>";
  const auto files = std::make_unique<mjVFS>();
  mj_defaultVFS(files.get());
  REQUIRE(mj_makeEmptyFileVFS(files.get(), "body.xml", static_cast<int>(xml.size())) == 0);
  std::copy(xml.begin(), xml.end(), static_cast<char*>(files->filedata[0]));
  char error[500] = "";
  Simulation s;
  s.model.reset(mj_loadXML("body.xml", files.get(), error, sizeof error));
  mj_deleteVFS(files.get());
  INFO(error);
  REQUIRE(s.model != nullptr);
  s.data.reset(mj_makeData(s.model.get()));
  return s;
}

void run(Simulation& s, double seconds) {
  while (s.data->time < seconds) mj_step(s.model.get(), s.data.get());
}

/// Vertical force on each foot (geom 0 is the plane).
std::vector<double> foot_forces(const Simulation& s, std::size_t feet) {
  std::vector<double> force(feet, 0.0);
  for (int c = 0; c < s.data->ncon; ++c) {
    const mjContact& contact = s.data->contact[c];
    mjtNum f[6];
    mj_contactForce(s.model.get(), s.data.get(), c, f);
    force[static_cast<std::size_t>(std::max(contact.geom1, contact.geom2) - 1)] += f[0];
  }
  return force;
}

double tilt_of_body(const Simulation& s) {
  const mjtNum* R = s.data->xmat + 9;
  return std::acos(std::clamp(R[8], -1.0, 1.0));
}

}  // namespace

TEST_CASE(
    "forces lie between the least and the greatest that statics admits, and exist where it admits any") {
  int stood = 0, tipped = 0;
  for (int k = 0; k < cases(); ++k) {
    Draw draw{301, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    std::vector<Vec3> contacts;
    const int n = 3 + static_cast<int>(draw.in(0, 4));
    for (int i = 0; i < n; ++i) contacts.emplace_back(draw.in(-2, 2), draw.in(-2, 2), 0);
    const Load load{draw.in(500, 4000), draw.in(-1.5, 1.5), draw.in(-1.5, 1.5)};
    const Reactions r = reactions(contacts, drawn_supports(draw, contacts.size()), load.wrench_at_origin());
    const bool admitted = extreme_share(contacts, load, 0, false).has_value();
    REQUIRE((r.outcome != Reactions::Outcome::tips) == admitted);
    (admitted ? stood : tipped)++;
    if (!admitted) continue;
    for (int i = 0; i < n; ++i) {
      const double share = r.normal[static_cast<std::size_t>(i)] / load.W;
      CHECK(share >= *extreme_share(contacts, load, i, false) - 1e-7);
      CHECK(share <= *extreme_share(contacts, load, i, true) + 1e-7);
    }
  }
  CHECK(stood > cases() / 10);
  CHECK(tipped > cases() / 10);
}

TEST_CASE("no support carries more on a rectangle than W/2 inside the kern and W outside it") {
  const std::vector<Vec3> feet{{2, 1.5, 0}, {-2, 1.5, 0}, {-2, -1.5, 0}, {2, -1.5, 0}};
  for (const double share : {0.0, 0.3, 0.7, 1.0}) {
    const Load edge{1, 2 * share,
                    1.5 * (1 - share)};  // on the kern's border, equal springs: W/2 at the nearest foot
    std::vector<Support> equal(4);
    for (Support& s : equal) s.stiffness = 55e3;
    const Reactions r = reactions(feet, equal, edge.wrench_at_origin());
    CHECK(*std::max_element(r.normal.begin(), r.normal.end()) == Approx(0.5).epsilon(1e-9));
    CHECK(*extreme_share(feet, edge, 0, true) <= 1 + 1e-9);
  }
}

TEST_CASE("three feet of a simulated rigid body carry what statics says") {
  for (int k = 0; k < 4; ++k) {
    Draw draw{302, static_cast<std::uint64_t>(k)};
    INFO(draw.text());
    std::vector<Vec3> feet;
    for (int i = 0; i < 3; ++i) {
      const double a = 2 * kPi * i / 3 + draw.in(-0.4, 0.4);
      feet.emplace_back(draw.in(1.2, 2.5) * std::cos(a), draw.in(1.2, 2.5) * std::sin(a), 0);
    }
    const Vec3 centre(draw.in(-0.2, 0.2), draw.in(-0.2, 0.2), 0.5);
    const double mass = draw.in(200, 800), gravity = 1.62;
    const Load load{mass * gravity, centre.x(), centre.y()};
    Simulation s = body_on_feet(feet, mass, centre, gravity);
    run(s, 3);
    const std::vector<double> simulated = foot_forces(s, 3);
    const Reactions r = reactions(feet, drawn_supports(draw, 3), load.wrench_at_origin());
    for (std::size_t i = 0; i < 3; ++i) CHECK(r.normal[i] == Approx(simulated[i]).epsilon(2e-3));
  }
}

TEST_CASE("a simulated body on four feet goes over exactly where no forces balance it") {
  const std::vector<Vec3> feet{{2, 1.5, 0}, {-1.8, 1.3, 0}, {-2.1, -1.4, 0}, {1.7, -1.6, 0}};
  std::vector<Support> legs(4);
  for (Support& s : legs) s.stiffness = 55e3;
  for (std::size_t i = 0; i < 4; ++i) {
    const Vec3 &a = feet[i], &b = feet[(i + 1) % 4];
    const Vec2 middle = 0.5 * (a + b).head<2>(), along = (b - a).head<2>().normalized(),
               out(along.y(), -along.x());
    for (const double beyond : {-0.03, 0.03}) {  // [m] outside the edge
      const Vec2 at = middle + beyond * out;
      const Load load{500 * 1.62, at.x(), at.y()};
      const bool tips = reactions(feet, legs, load.wrench_at_origin()).outcome == Reactions::Outcome::tips;
      CHECK(tips == (beyond > 0));
      Simulation s = body_on_feet(feet, 500, Vec3(at.x(), at.y(), 0.8), 1.62);
      run(s, 6);
      CHECK((tilt_of_body(s) > radians(3)) == tips);
    }
  }
}

}  // namespace rimstance
