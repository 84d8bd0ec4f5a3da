#include "trace/row_places.h"

#include <algorithm>

namespace glintline {

namespace {

/// A row as two heads of it, an even number of places apart, say that it runs.
struct RowModel {
  Point2 origin;                   ///< of place 0
  Point2 step;                     ///< from one place to the next
  Point2 offset = Point2::Zero();  ///< of the places of the other parity, along the row
  int parity = 0;                  ///< of the two heads' places

  [[nodiscard]] Point2 place(int k) const {
    return origin + k * step + (k % 2 == parity ? Point2(Point2::Zero()) : offset);
  }
};

constexpr int kNearby = 9;             ///< places looked at together: of a bow no more than a straight line takes
constexpr double kAgreesMm = 0.3;      ///< what is farther from its place is no head, or another's
constexpr double kMostUnevenMm = 0.3;  ///< half of what spacings differ by, and a little

using Heads = std::vector<std::optional<Point2>>;

/// How well heads agree with a row.
struct Agreement {
  double off = 0;  ///< sum of distances from their places, none counted for more than kAgreesMm
  int heads = 0;   ///< that stand at their places
};

Agreement agreement(const Heads& seen, const RowModel& row, int from, int to) {
  Agreement sum;
  for (int k = from; k < to; ++k) {
    if (!seen[k]) continue;
    const double off = (*seen[k] - row.place(k)).norm();
    sum.heads += off < kAgreesMm ? 1 : 0;
    sum.off += std::min(off, kAgreesMm);
  }
  return sum;
}

/// The row of the heads about place k, that one left out.
std::optional<RowModel> row_about(Heads seen, int k) {
  seen[k].reset();
  const int count = static_cast<int>(seen.size());
  const int from = std::clamp(k - kNearby / 2, 0, std::max(0, count - kNearby));
  const int to = std::min(count, from + kNearby);
  std::optional<RowModel> best;
  Agreement most;
  const auto consider = [&](const RowModel& row) {
    const Agreement found = agreement(seen, row, from, to);
    if (best && found.off >= most.off) return;
    best = row;
    most = found;
  };
  for (int a = from; a < to; ++a) {
    for (int b = a + 2; b < to; b += 2) {
      if (!seen[a] || !seen[b]) continue;
      RowModel row;
      row.step = (*seen[b] - *seen[a]) / (b - a);
      row.origin = *seen[a] - a * row.step;
      row.parity = a % 2;
      const RowModel even = row;
      const Point2 along = row.step.normalized();
      consider(even);
      for (int c = from; c < to; ++c) {
        if (!seen[c] || c % 2 == row.parity) continue;
        const double off = (*seen[c] - even.place(c)).dot(along);
        row.offset = std::clamp(off, -kMostUnevenMm, kMostUnevenMm) * along;
        consider(row);
      }
    }
  }
  constexpr int kLeastHeads = 4;
  return most.heads >= kLeastHeads ? best : std::nullopt;
}

}  // namespace

std::vector<std::optional<Point2>> places_in_row(const std::vector<std::optional<Point2>>& seen) {
  Heads places;
  for (int k = 0; k < static_cast<int>(seen.size()); ++k) {
    const auto row = row_about(seen, k);
    places.push_back(row ? std::optional(row->place(k)) : std::nullopt);
  }
  return places;
}

}  // namespace glintline
