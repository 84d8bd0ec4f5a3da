#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "model/quantity.h"

namespace glintline {

/// A stretch of work the chain cut in.
struct Job {
  std::optional<double> hours;    ///< of the saw's running
  std::optional<double> tanks;    ///< of fuel, or charges of the battery
  std::optional<double> area_m2;  ///< of kerf cut, where somebody counted it
  std::string wood;               ///< as the user says it: "spruce, frozen"
  bool dirt = false;              ///< soil, sand or stone touched, or dirty bark
  bool metal = false;             ///< nail, wire, wedge touched
};

/// Strokes that one cutter got.
struct CutterStrokes {
  int number = 0;
  double strokes = 0;
};

/// A sharpening by hand or machine.
struct FilingDone {
  std::string who;
  std::optional<double> strokes;  ///< on every cutter that is not among `otherwise`
  std::vector<CutterStrokes> otherwise;
  std::optional<double> cost;  ///< paid for it, in the currency of the purchase
};

/// What the chain cost.
struct Purchase {
  double price = 0;
  std::string currency;
};

/// One cut through wood of known section against the clock.
struct TimedCut {
  double seconds = 0;
  Quantity section_cm2;  ///< the sawn face
  std::string wood;
};

/// Something that happened to a chain, as the user told it.
struct ChainEvent {
  std::string id;     ///< never the same twice, in any record
  std::string chain;  ///< ChainSheet::name
  std::string at;     ///< local date, or date and time: "2026-11-02", "2026-11-02T14:30"
  std::variant<Job, FilingDone, Purchase, TimedCut> what;
  std::string note;
};

}  // namespace glintline
