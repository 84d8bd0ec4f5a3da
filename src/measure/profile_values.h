#pragma once

#include <Eigen/Dense>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "measure/cutter_geometry.h"
#include "measure/row_agreement.h"
#include "model/card_pose.h"
#include "model/profile_outlines.h"
#include "model/quantity.h"
#include "model/setup.h"

namespace glintline {

/// What a cutter gives with one influence moved by its standard uncertainty; nothing where no outline is left then.
struct MovedGeometry {
  Source source;
  std::optional<CutterGeometry> geometry;
};

/// All evaluations of one cutter: the usual one and one for every influence.
struct Evaluations {
  CutterGeometry usual;
  std::vector<MovedGeometry> moved;  ///< none before take_influences; the same influences for every cutter of a picture
  std::vector<CutterGeometry> fallen_gauges;
  std::optional<CutterGeometry> other_face;  ///< where it is in doubt which face looks up
  double chance_of_other_face = 0;
};

/// One number of a geometry, where it has it.
using GeometryPart = std::function<std::optional<double>(const CutterGeometry&)>;

/// A quantity, or why there is none.
struct ProfileValue {
  std::optional<Quantity> quantity;
  std::string missing;
  double learned = 0;  ///< to be added: what the cutters' agreement tells of the influences that move the quantity
};

/// What a cutter seen from the side gives.
struct ProfileValues {
  ProfileValue drop_mm, length_mm, slope_rad, hook_rad, rounding_um;
  bool drop_hangs_on_the_face = false;
};

/// The usual evaluation and those of which the value takes notice. fails (nothing): too little of the outlines is seen.
[[nodiscard]] std::optional<Evaluations> evaluate(const CutterOutline& cutter, const CardPose& pose,
                                                  const Setup& setup);

/// The evaluations that only the budget asks for: four times as many as the value does.
void take_influences(Evaluations& all, const CutterOutline& cutter, const CardPose& pose, const Setup& setup);

/// Change of a part with each influence; 0 where the part is lost with it.
[[nodiscard]] Eigen::VectorXd by_influence(const Evaluations& all, const GeometryPart& part, double usual);

/// Bounds that no saw-chain cutter's shape leaves, new or worn out; beyond them the outline was misread.
[[nodiscard]] bool like_a_cutter(const CutterGeometry& g);

/// True where the rear end lies where a top plate's can. Else something hid it, and only the length is lost.
[[nodiscard]] bool like_a_rear_end(const CutterGeometry& g);

/// True where the working corner is not the place at which bare steel ends: the bevel mirrors the field there.
[[nodiscard]] bool corner_hidden(const CutterOutline& outline, const ChainFrame& frame, double plate_height_mm);

/// How far an outline's place may lie beside the edge, all along it alike, mm.
[[nodiscard]] double bias_of(double px_mm);

/// All values of one look. Before take_influences their budgets lack the influences, and so does what was `learned`.
/// in: `px_mm`, a pixel at the working corner; `row`, what the picture's cutters agree on: nothing where they do not.
[[nodiscard]] ProfileValues values_of(const Evaluations& all, const CutterOutline& outline, double px_mm,
                                      bool corner_is_hidden, const std::optional<RowAgreement>& row);

inline constexpr const char* kNoLength = "length: rear end or working corner not seen against the field";

}  // namespace glintline
