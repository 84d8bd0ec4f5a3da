#include "judge/unseen_cutters.h"

#include <algorithm>
#include <set>

namespace glintline {

namespace {

constexpr double kDoubt = 0.05 - 1e-12;  // less a hair, for 1 in 20 exactly

bool damaged(const JoinedCutter& cutter) {
  const Action action = cutter.verdict.action;
  return action == Action::kFile || action == Action::kRetire || action == Action::kGaugeTooLow;
}

std::string asked(int number, const CutterSequence& sequence, const std::string& why) {
  return "cutter " + std::to_string(number) + ", the " + sequence.place_of(number) + ": " + why;
}

/// Steps to the nearest number in `taken`, round the loop.
int distance(int number, const std::set<int>& taken, int count) {
  int least = count;
  for (const int t : taken) {
    const int straight = std::abs(number - t);
    least = std::min({least, straight, count - straight});
  }
  return least;
}

}  // namespace

int most_bad_unseen(int all, int seen) {
  int bad = 0;
  while (bad + seen < all) {
    // C(all - K, seen) / C(all, seen) as a product, so that no factorial grows beyond what a double holds.
    double probability = 1;
    for (int i = 0; i < seen; ++i) probability *= static_cast<double>(all - bad - 1 - i) / (all - i);
    if (probability < kDoubt) break;
    ++bad;
  }
  return bad;
}

std::vector<std::string> look_next(const std::vector<JoinedCutter>& cutters, const CutterSequence& sequence,
                                   std::size_t most) {
  std::vector<std::string> next;
  if (!sequence.count) return next;
  const int count = *sequence.count;
  std::set<int> taken;
  for (const JoinedCutter& c : cutters) taken.insert(c.number);
  for (const JoinedCutter& c : cutters) {
    if (!damaged(c)) continue;
    for (const int step : {-1, 1}) {
      const int beside = sequence.moved(c.number, step).value_or(0);
      if (next.size() >= most || beside < 1 || !taken.insert(beside).second) continue;
      next.push_back(asked(beside, sequence,
                           "it stands beside cutter " + std::to_string(c.number) +
                               ", which is damaged, and a stone seldom hits one alone"));
    }
  }
  std::optional<Hand> last;
  while (next.size() < most && static_cast<int>(taken.size()) < count) {
    int best = 0;
    double widest = -1;
    for (int n = 1; n <= count; ++n) {
      if (taken.count(n) > 0) continue;
      // Half a step for the other hand's turn: it decides between equally wide gaps.
      const double gap = distance(n, taken, count) + (last && sequence.hand_of(n) != last ? 0.5 : 0.0);
      if (gap > widest) {
        widest = gap;
        best = n;
      }
    }
    next.push_back(
        asked(best, sequence, taken.empty() ? "nothing has been looked at yet" : "nothing near it has been looked at"));
    taken.insert(best);
    last = sequence.hand_of(best);
  }
  return next;
}

}  // namespace glintline
