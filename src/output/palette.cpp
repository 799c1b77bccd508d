#include "rimstance/output/palette.hpp"

#include <array>

#include "rimstance/base/errors.hpp"

namespace rimstance {
namespace {

constexpr std::string_view kInk = "#1d2126", kGrey = "#6b7076", kWhite = "#ffffff";
constexpr std::string_view kNavy = "#12355b", kSky = "#3f8fc5", kBrick = "#a3231b", kAmber = "#ffd75e";
constexpr std::string_view kPlum = "#7b4397", kPine = "#1f6f54", kEarth = "#5a4631", kSand = "#d9ccb4";

constexpr std::array kLooks{
    // ground
    Look{"relief"},
    Look{.name = "contour", .stroke = kEarth, .width = 0.6, .size = 10, .halo = false},
    Look{.name = "contour-index", .stroke = kEarth, .width = 1.3, .size = 11, .halo = false},
    Look{
        .name = "hole", .stroke = kInk, .width = 1.2, .fill = kWhite, .hatch = Hatch::crossed, .halo = false},
    Look{.name = "void",
         .stroke = kInk,
         .width = 1.2,
         .fill = "#8d9197",
         .hatch = Hatch::rising,
         .halo = false},
    Look{.name = "ground", .stroke = kEarth, .width = 2, .fill = kSand, .halo = false},
    Look{.name = "rim", .stroke = kEarth, .width = 2.2, .dash = "9 4"},
    // machine
    Look{.name = "machine", .stroke = kInk, .width = 1.6, .fill = kWhite, .opacity = 0.72},
    Look{.name = "wheel", .stroke = kInk, .width = 1.4, .fill = kGrey, .opacity = 0.8},
    Look{.name = "arm", .stroke = kInk, .width = 3},
    Look{.name = "leg", .stroke = kInk, .width = 4.5},
    Look{.name = "pad", .stroke = kWhite, .width = 1.2, .fill = kNavy},
    Look{.name = "pad-unsupported",
         .stroke = kBrick,
         .width = 2.4,
         .fill = kWhite,
         .opacity = 0.9,
         .hatch = Hatch::rising},
    Look{.name = "boom", .stroke = kPlum, .width = 5},
    Look{.name = "line", .stroke = kInk, .width = 1.2, .halo = false},
    Look{.name = "load", .stroke = kInk, .width = 1.6, .fill = kAmber},
    Look{.name = "guide", .stroke = kPine, .width = 2, .dash = "2 3"},
    Look{.name = "counterweight", .stroke = kInk, .width = 1.4, .fill = kPine},
    // statics
    Look{.name = "polygon", .stroke = kNavy, .width = 2, .fill = kSky, .opacity = 0.28},
    Look{.name = "edge-worst", .stroke = kBrick, .width = 6, .dash = "14 4"},
    Look{.name = "path", .stroke = kInk, .width = 1.2, .fill = kAmber, .opacity = 0.75, .hatch = Hatch::dots},
    Look{.name = "resultant-path", .stroke = kInk, .width = 2.4, .dash = "6 3"},
    Look{.name = "state-worst",
         .stroke = kInk,
         .width = 1.2,
         .fill = kAmber,
         .shape = Shape::star,
         .size = 17},
    Look{.name = "centre", .stroke = kInk, .width = 1.6, .fill = kWhite, .shape = Shape::ring, .size = 11},
    Look{.name = "probe", .stroke = kInk, .width = 1.6, .fill = kAmber, .shape = Shape::diamond, .size = 12},
    Look{.name = "defect-edge", .stroke = kBrick, .width = 2, .shape = Shape::cross, .size = 10},
    Look{.name = "defect-overhang",
         .stroke = kInk,
         .width = 1.2,
         .fill = kBrick,
         .shape = Shape::triangle,
         .size = 9},
    Look{.name = "slew-sector", .stroke = kPlum, .width = 1.6, .dash = "7 4"},
    // what limits a payload
    Look{.name = "limit-tipping", .stroke = kInk, .width = 0.3, .fill = "#b9d3e8", .halo = false},
    Look{.name = "limit-without-load",
         .stroke = kInk,
         .width = 0.3,
         .fill = "#7d2a20",
         .hatch = Hatch::crossed,
         .halo = false},
    Look{.name = "limit-leg",
         .stroke = kInk,
         .width = 0.3,
         .fill = "#9a9fa5",
         .hatch = Hatch::rising,
         .halo = false},
    Look{.name = "limit-boom",
         .stroke = kInk,
         .width = 0.3,
         .fill = "#efe6d3",
         .hatch = Hatch::rising,
         .halo = false},
    Look{.name = "limit-root",
         .stroke = kInk,
         .width = 0.3,
         .fill = "#efe6d3",
         .hatch = Hatch::crossed,
         .halo = false},
    Look{.name = "limit-hoist",
         .stroke = kInk,
         .width = 0.3,
         .fill = "#ffe9a3",
         .hatch = Hatch::dots,
         .halo = false},
    Look{.name = "limit-none", .stroke = kInk, .width = 0.3, .fill = kWhite, .halo = false},
    Look{.name = "payload-line", .stroke = kNavy, .width = 1.8, .size = 12},
    Look{.name = "payload-asked", .stroke = kBrick, .width = 4, .dash = "12 5"},
    // where the counterweight may stand
    Look{.name = "travel-window", .stroke = kNavy, .width = 1.6, .fill = "#b9d3e8", .halo = false},
    Look{.name = "travel-beyond",
         .stroke = kNavy,
         .width = 0.8,
         .fill = "#e9f0f6",
         .hatch = Hatch::rising,
         .halo = false},
    Look{.name = "travel-none",
         .stroke = kBrick,
         .width = 1.2,
         .fill = "#7d2a20",
         .opacity = 0.85,
         .hatch = Hatch::crossed,
         .halo = false},
    Look{.name = "transit-window", .stroke = kPlum, .width = 1.8, .dash = "3 4"},
    Look{.name = "guide-end", .stroke = kPine, .width = 2.6, .dash = "10 4"},
    Look{.name = "schedule", .stroke = kInk, .width = 4},
    Look{.name = "schedule-best", .stroke = kBrick, .width = 4, .dash = "5 5"},
    // words and measures
    Look{.name = "dimension", .stroke = kInk, .width = 1.1, .size = 12},
    Look{.name = "label", .stroke = kInk, .width = 0.9, .size = 13},
    Look{.name = "label-strong", .stroke = kBrick, .width = 0.9, .size = 14},
    Look{.name = "axis", .stroke = kGrey, .width = 0.8, .fill = kInk, .size = 12, .halo = false},
};

}  // namespace

std::span<const Look> looks() { return kLooks; }

const Look& look(std::string_view name) {
  for (const Look& l : kLooks)
    if (l.name == name) return l;
  expects(false, "look: the palette knows the name");
  return kLooks.front();
}

}  // namespace rimstance
