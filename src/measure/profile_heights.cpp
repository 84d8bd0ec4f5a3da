#include "measure/profile_heights.h"

#include <cmath>

namespace glintline {

namespace {

/// Standard uncertainty of a value known only to lie between two bounds (JCGM 100:2008, 4.3.7).
KnownLength between(double low, double high) { return {(low + high) / 2, (high - low) / std::sqrt(12.0)}; }

/// The lengths that the rims' heights are sums of.
struct Lengths {
  KnownLength upper_face;   ///< upper outer face over the card
  KnownLength faces_apart;  ///< from the lower outer face to the upper one
  KnownLength plate_width;
  KnownLength gauge_set_in;
  KnownLength side_plate;
  KnownLength head_rim;  ///< rim of a head's outline under the upper outer face
  KnownLength taper;     ///< of each side of the top plate, mm for each mm towards the rear
};

/// Lying on its lower heads, a chain of known width over both heads has its upper ones' tops at that height. Heads
/// stand about level with the outer faces or half a millimetre proud of them, alike on both sides (common practice, no
/// source).
void take_chain_width(Lengths& l, const KnownLength& width) {
  const KnownLength proud = between(0, 0.5);
  l.upper_face = {width.value_mm - proud.value_mm, std::hypot(width.u_mm, proud.u_mm)};
  l.faces_apart = {width.value_mm - 2 * proud.value_mm, std::hypot(width.u_mm, 2 * proud.u_mm)};
  // A peened head stands 0.4 to 1.2 mm over its strap (from memory), and its outline from above is its foot.
  const KnownLength head = between(0.4, 1.2);
  l.head_rim = {head.value_mm - proud.value_mm, head.u_mm};
}

Lengths lengths_of(const Setup& setup) {
  Lengths l;
  // A chain on its side on the card: the upper outer face 5 to 6 mm over it (common practice, no source).
  l.upper_face = setup.stand_off.value_or(between(5, 6));
  // Its lower one 0 to 1 mm over it, so 4 to 6 mm between the two.
  l.faces_apart = between(4, 6);
  // A foot of the dome 0.2 to 1 mm under its top, which stands about level with the outer face (from memory).
  l.head_rim = between(0, 0.8);
  if (setup.chain.chain_width && !setup.stand_off) take_chain_width(l, *setup.chain.chain_width);
  // Top plates are 4 to 6.5 mm wide (from memory).
  l.plate_width = setup.chain.top_plate_width.value_or(between(4, 6.5));
  // The side plate is bent outwards over the link's body, which lies between the tie straps' level and the outer face:
  // by no more than about a plate's thickness (common practice, no source).
  l.gauge_set_in = setup.chain.gauge_set_in.value_or(between(0, 1.2));
  // Links are stamped from sheet of about the drive links' gauge, .043 to .063 in (1.1 to 1.6 mm; trade tables).
  l.side_plate = setup.chain.side_plate.value_or(between(1.1, 1.6));
  // Top plates narrow to the rear, so that their sides clear the cut (TRADE: common practice), by 1 to 5 degrees on
  // either side (from memory).
  l.taper = between(0.0175, 0.0875);
  return l;
}

ProfileHeights heights_of(const Lengths& l, bool outer_face_up, const std::optional<bool>& chisel) {
  const double outer = outer_face_up ? l.upper_face.value_mm : l.upper_face.value_mm - l.faces_apart.value_mm;
  const double inwards = outer_face_up ? -1 : 1;
  ProfileHeights h;
  h.rivets = l.upper_face.value_mm - l.head_rim.value_mm;
  h.plate_outer = outer;
  h.plate_inner = outer + inwards * l.plate_width.value_mm;
  h.gauge_outer = outer + inwards * l.gauge_set_in.value_mm;
  h.gauge_inner = h.gauge_outer + inwards * l.side_plate.value_mm;
  h.taper = l.taper.value_mm;
  h.chisel = chisel;
  return h;
}

}  // namespace

Setup with_usual_size(const Setup& setup, double pitch_mm) {
  // Half-way between the real pitches 9.525 and 10.26 mm (trade tables).
  constexpr double kWideFromMm = 9.9;
  Setup sized = setup;
  if (!(pitch_mm > kWideFromMm)) return sized;
  // Its straps and drive links are thicker by a tenth to a third than those of 3/8 in chain (from memory).
  if (!setup.stand_off && !setup.chain.chain_width) sized.stand_off = between(5.5, 7);
  // Its top plates are among the wider ones, and half a millimetre more (from memory).
  if (!setup.chain.top_plate_width) sized.chain.top_plate_width = between(4.5, 7);
  return sized;
}

HeightModel profile_heights(const Setup& setup, bool outer_face_up) {
  const Lengths usual = lengths_of(setup);
  HeightModel model{heights_of(usual, outer_face_up, setup.chain.chisel), {}, {}};
  const auto vary = [&](Source source, KnownLength Lengths::*part) {
    Lengths moved = usual;
    (moved.*part).value_mm += (moved.*part).u_mm;
    model.variations.push_back({source, heights_of(moved, outer_face_up, setup.chain.chisel)});
  };
  vary(Source::kStandOff, &Lengths::upper_face);
  vary(Source::kStandOff, &Lengths::faces_apart);
  vary(Source::kStandOff, &Lengths::head_rim);
  vary(Source::kThickness, &Lengths::plate_width);
  vary(Source::kThickness, &Lengths::gauge_set_in);
  vary(Source::kThickness, &Lengths::side_plate);
  vary(Source::kThickness, &Lengths::taper);
  // A gauge is filed by hand, across it, square within about 2 degrees (from memory).
  const KnownLength fall = between(-0.035, 0.035);
  for (int i = 0; i < 2; ++i) {
    model.fallen_gauges[i] = model.usual;
    model.fallen_gauges[i].gauge_fall = (i == 0 ? 1 : -1) * fall.u_mm * usual.side_plate.value_mm;
  }
  return model;
}

}  // namespace glintline
