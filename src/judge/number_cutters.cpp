#include "judge/number_cutters.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "base/text.h"
#include "judge/photo_order.h"

namespace glintline {

namespace {

using Numbers = std::vector<std::vector<std::optional<CutterNumber>>>;

std::string file_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

const char* hand_word(Hand hand) { return hand == Hand::kLeft ? "left-hander" : "right-hander"; }

const char* view_word(ViewKind view) { return view == ViewKind::kPlan ? "plan" : "profile"; }

const char* by_word(NumberedBy by) {
  switch (by) {
    case NumberedBy::kTag:
      return "its tag";
    case NumberedBy::kFileName:
      return "its file name";
    case NumberedBy::kList:
      return "the list";
    case NumberedBy::kOrder:
      break;
  }
  return "the order of the photographs";
}

/// Numbers all photographs under one way of counting.
class NumberRun {
 public:
  NumberRun(const NumberingTask& task, Counting counting) : task_(task) {
    result_.sequence.counting = counting;
    result_.sequence.alike_after = task.sheet.alike_after;
    result_.sequence.first = task.sheet.first_cutter;
    if (const auto count = expected_cutters(task.sheet); count && count->exact) result_.sequence.count = count->likely;
    for (const Inspection& photo : task.photos) {
      result_.numbers.emplace_back(photo.cutters.size());
      order_.push_back(running_order(photo));
    }
    spacing_ = cutter_spacing(task.photos, task.sheet);
  }

  Numbering run() {
    leave_out_doubles();
    for (std::size_t p = 0; p < task_.photos.size(); ++p) by_tags(p);
    fit_hands();
    for (std::size_t p = 0; p < task_.photos.size(); ++p) by_claims(p);
    fit_hands();
    disbelieve_wrong_hands();
    for (const ViewKind view : {ViewKind::kProfile, ViewKind::kPlan}) by_order(view);
    for (std::size_t p = 0; p < task_.photos.size(); ++p) ask_again(p);
    tell_unnumbered();
    return std::move(result_);
  }

  [[nodiscard]] int proofs() const { return proofs_; }

 private:
  void note(const std::string& text) { result_.notes.push_back(text); }
  [[nodiscard]] std::string name(std::size_t p) const { return file_name(task_.photos[p].photo_path); }
  [[nodiscard]] int sign() const { return result_.sequence.counting == Counting::kAhead ? 1 : -1; }

  void leave_out_doubles() {
    std::map<std::string, std::size_t> first;
    for (std::size_t p = 0; p < task_.photos.size(); ++p) {
      const std::string& hash = task_.photos[p].photo_sha256;
      if (hash.empty()) continue;
      const auto [known, fresh] = first.emplace(hash, p);
      if (fresh) continue;
      left_out_.insert(p);
      note(name(p) + " is the same file as " + name(known->second) + ": counted once");
    }
  }

  [[nodiscard]] bool in_use(std::size_t p) const { return left_out_.count(p) == 0 && !task_.photos[p].refusal; }

  void give(std::size_t p, std::size_t cutter, std::optional<int> number, NumberedBy by) {
    if (!number) {
      note("a cutter in " + name(p) +
           " lies before number 1, and how many cutters the loop has is not known: write drive_links into the sheet");
      return;
    }
    const std::optional<int>& count = result_.sequence.count;
    if (*number < 1 || (count && *number > *count)) {
      note(name(p) + ": number " + std::to_string(*number) + " by " + by_word(by) + ", but the chain has " +
           std::to_string(count.value_or(0)) + " cutters by its drive links: not believed");
      disbelieved_.insert(p);
      return;
    }
    result_.numbers[p][cutter] = CutterNumber{*number, by};
  }

  /// The tagged cutters, then their neighbours by how far off they stand.
  void by_tags(std::size_t p) {
    if (!in_use(p)) return;
    const std::vector<InspectedCutter>& cutters = task_.photos[p].cutters;
    std::optional<std::size_t> anchor;
    for (std::size_t place = 0; place < order_[p].size(); ++place) {
      const std::optional<int>& tag = cutters[order_[p][place].cutter].measured.number;
      if (!tag) continue;
      give(p, order_[p][place].cutter, tag, NumberedBy::kTag);
      if (anchor) compare_tags(p, *anchor, place);
      if (!anchor) anchor = place;
    }
    if (anchor) number_neighbours(p, *anchor, NumberedBy::kTag);
    if (anchor) compare_with_claims(p);
  }

  void compare_tags(std::size_t p, std::size_t a, std::size_t b) {
    const auto tag_at = [&](std::size_t place) {
      return *task_.photos[p].cutters[order_[p][place].cutter].measured.number;
    };
    const int steps = static_cast<int>(b - a);
    const bool fits = result_.sequence.moved(tag_at(a), sign() * steps) == tag_at(b);
    const bool other = result_.sequence.moved(tag_at(a), -sign() * steps) == tag_at(b);
    proofs_ += static_cast<int>(fits) - static_cast<int>(other);
    if (fits) return;
    note(name(p) + ": tags " + std::to_string(tag_at(a)) + " and " + std::to_string(tag_at(b)) +
         " stand beside cutters " + (steps == 1 ? "that are neighbours" : std::to_string(steps) + " apart") +
         (other ? ": they count the other way" : ": one of them lies in the wrong place"));
  }

  void number_neighbours(std::size_t p, std::size_t anchor, NumberedBy by) {
    const std::size_t known = order_[p][anchor].cutter;
    if (!result_.numbers[p][known]) return;
    const int number = result_.numbers[p][known]->number;
    for (std::size_t place = 0; place < order_[p].size(); ++place) {
      const std::size_t cutter = order_[p][place].cutter;
      if (result_.numbers[p][cutter]) continue;
      const int in_order = static_cast<int>(place) - static_cast<int>(anchor);
      const std::optional<int> steps = spacing_.steps(order_[p][place].along_mm - order_[p][anchor].along_mm, in_order);
      if (!steps) {
        note(name(p) + ": a shape beside cutter " + std::to_string(number) +
             " stands where no cutter can be: left out");
        continue;
      }
      give(p, cutter, result_.sequence.moved(number, sign() * *steps), by);
    }
  }

  void compare_with_claims(std::size_t p) {
    const auto numbers = numbers_in(p);
    const auto check = [&](const PhotoClaim& claim, const char* who) {
      const bool any =
          std::any_of(claim.numbers.begin(), claim.numbers.end(), [&](int n) { return numbers.count(n) > 0; });
      if (claim.numbers.empty() || numbers.empty() || any) return;
      note(name(p) + ": its tag says cutter " + std::to_string(*numbers.begin()) + ", " + who + " says " +
           std::to_string(claim.numbers.front()) + ": the tag is believed");
    };
    check(task_.claims[p].by_name, "its file name");
    if (task_.claims[p].by_list) check(*task_.claims[p].by_list, "the list");
  }

  [[nodiscard]] std::set<int> numbers_in(std::size_t p) const {
    std::set<int> numbers;
    for (const auto& n : result_.numbers[p]) {
      if (n) numbers.insert(n->number);
    }
    return numbers;
  }

  /// Name and list: what they say, who says it. The list goes before the name where the name says nothing.
  [[nodiscard]] std::pair<PhotoClaim, NumberedBy> claim_of(std::size_t p) const {
    const PhotoClaims& claims = task_.claims[p];
    if (claims.by_name.numbers.empty() && claims.by_list) return {*claims.by_list, NumberedBy::kList};
    return {claims.by_name, NumberedBy::kFileName};
  }

  void by_claims(std::size_t p) {
    const auto [claim, by] = claim_of(p);
    const Inspection& photo = task_.photos[p];
    if (in_use(p) && claim.view && *claim.view != photo.view && !photo.cutters.empty()) {
      note(name(p) + ": named " + view_word(*claim.view) + " but looks at the chain in " + view_word(photo.view) +
           ": taken as it looks");
    }
    if (!in_use(p) || claim.numbers.empty() || !numbers_in(p).empty() || order_[p].empty()) return;
    const auto& list = task_.claims[p].by_list;
    if (by == NumberedBy::kFileName && list && !list->numbers.empty() && list->numbers != claim.numbers) {
      note(name(p) + ": its file name says cutter " + std::to_string(claim.numbers.front()) + ", the list says " +
           std::to_string(list->numbers.front()) + ": the file name is believed");
    }
    if (claim.numbers.size() > 1 && claim.numbers.size() == order_[p].size()) {
      std::vector<int> sorted = claim.numbers;
      std::sort(sorted.begin(), sorted.end());
      if (sign() < 0) std::reverse(sorted.begin(), sorted.end());
      for (std::size_t i = 0; i < sorted.size(); ++i) give(p, order_[p][i].cutter, sorted[i], by);
      return;
    }
    const std::size_t anchor = meant_by(p, claim.numbers.front(), claim.hand);
    give(p, order_[p][anchor].cutter, claim.numbers.front(), by);
    number_neighbours(p, anchor, by);
  }

  /// Which of several cutters a single number means: of the right hand, and nearest to the middle of the card.
  [[nodiscard]] std::size_t meant_by(std::size_t p, int number, std::optional<Hand> claimed) const {
    const std::optional<Hand> wanted = claimed ? claimed : result_.sequence.hand_of(number);
    std::size_t best = 0;
    double least = 1e300;
    for (std::size_t place = 0; place < order_[p].size(); ++place) {
      const std::optional<Hand>& hand = task_.photos[p].cutters[order_[p][place].cutter].measured.hand;
      constexpr double kWrongHandMm = 1e6;
      const double off = order_[p][place].off_middle_mm + (wanted && hand && *hand != *wanted ? kWrongHandMm : 0);
      if (off < least) {
        least = off;
        best = place;
      }
    }
    return best;
  }

  [[nodiscard]] std::vector<std::pair<int, Hand>> seen_hands(bool tags_only) const {
    std::vector<std::pair<int, Hand>> seen;
    for (std::size_t p = 0; p < task_.photos.size(); ++p) {
      for (std::size_t c = 0; c < result_.numbers[p].size(); ++c) {
        const auto& number = result_.numbers[p][c];
        const std::optional<Hand>& hand = task_.photos[p].cutters[c].measured.hand;
        if (number && hand && (!tags_only || number->by == NumberedBy::kTag)) seen.emplace_back(number->number, *hand);
      }
    }
    return seen;
  }

  /// The first cutter's hand, and behind which cutter two of a hand follow one another, by the fewest contradictions.
  /// A join must explain away at least two of them, so that a single misread hand does not make one.
  void fit_hands() {
    auto seen = seen_hands(true);
    if (seen.empty()) seen = seen_hands(false);
    if (seen.empty()) return;
    CutterSequence& sequence = result_.sequence;
    const bool may_join = !sequence.alike_after && !(sequence.count && *sequence.count % 2 == 0);
    int last = 0;
    for (const auto& [number, hand] : seen) last = std::max(last, number);
    CutterSequence best = sequence;
    int fewest = 1 << 20;
    for (const Hand first : {Hand::kLeft, Hand::kRight}) {
      if (task_.sheet.first_cutter && *task_.sheet.first_cutter != first) continue;
      for (int join = 0; join < (may_join ? last : 1); ++join) {
        CutterSequence tried = sequence;
        tried.first = first;
        if (join > 0) tried.alike_after = join;
        int wrong = join > 0 ? 2 : 0;
        for (const auto& [number, hand] : seen) wrong += tried.hand_of(number) != hand ? 1 : 0;
        if (wrong < fewest) {
          fewest = wrong;
          best = tried;
        }
      }
    }
    if (best.alike_after && !sequence.alike_after) {
      note("cutters " + std::to_string(*best.alike_after) + " and " + std::to_string(*best.alike_after + 1) +
           " are of the same hand: the loop seems to have been joined there");
    }
    sequence = best;
  }

  void disbelieve_wrong_hands() {
    struct Wrong {
      std::size_t photo;
      int number;
    };
    std::vector<Wrong> wrong;
    for (std::size_t p = 0; p < task_.photos.size(); ++p) {
      for (std::size_t c = 0; c < result_.numbers[p].size(); ++c) {
        auto& given = result_.numbers[p][c];
        const std::optional<Hand>& hand = task_.photos[p].cutters[c].measured.hand;
        if (!given || !hand || result_.sequence.hand_of(given->number).value_or(*hand) == *hand) continue;
        const std::string what = name(p) + " shows a " + hand_word(*hand) + ", but number " +
                                 std::to_string(given->number) + " (by " + by_word(given->by) + ") is a " +
                                 hand_word(other_hand(*hand));
        if (given->by == NumberedBy::kTag) {
          note(what + ": a tag in the wrong place, or two of a hand in a row there; check it");
          continue;
        }
        note(what + ": left out");
        result_.retakes.push_back({given->number, task_.photos[p].view, task_.photos[p].photo_path,
                                   std::string("shows a ") + hand_word(*hand) + " under this number"});
        wrong.push_back({p, given->number});
        disbelieved_.insert(p);
        given.reset();
      }
    }
    for (std::size_t i = 0; i + 1 < wrong.size(); ++i) {
      for (std::size_t j = i + 1; j < wrong.size(); ++j) {
        const bool alike = task_.photos[wrong[i].photo].view == task_.photos[wrong[j].photo].view;
        if (alike && std::abs(wrong[i].number - wrong[j].number) == 1) {
          note(name(wrong[i].photo) + " and " + name(wrong[j].photo) + " look swapped: rename them if they are");
        }
      }
    }
  }

  // --- by order --------------------------------------------------------------------------------------------------

  /// The photographs of one view in order; a refused one that says nothing of itself goes with the one before it.
  [[nodiscard]] std::vector<std::size_t> group(ViewKind view) const {
    std::vector<std::size_t> members;
    ViewKind before = ViewKind::kProfile;
    for (std::size_t p = 0; p < task_.photos.size(); ++p) {
      if (left_out_.count(p) > 0) continue;
      const std::optional<ViewKind> claimed = claim_of(p).first.view;
      const ViewKind own = in_use(p) ? task_.photos[p].view : claimed.value_or(before);
      before = own;
      const bool shows = !in_use(p) || !order_[p].empty();
      if (own == view && shows) members.push_back(p);
    }
    return members;
  }

  /// How many cutters a photograph takes up in the row: what it shows, a spoiled one what its like usually show.
  [[nodiscard]] int row_places(std::size_t p, int usual) const {
    return in_use(p) ? static_cast<int>(order_[p].size()) : usual;
  }

  [[nodiscard]] int usual_places(const std::vector<std::size_t>& members) const {
    std::vector<std::size_t> shown;
    for (const std::size_t p : members) {
      if (in_use(p)) shown.push_back(order_[p].size());
    }
    if (shown.empty()) return 1;
    std::nth_element(shown.begin(), shown.begin() + static_cast<std::ptrdiff_t>(shown.size() / 2), shown.end());
    return static_cast<int>(shown[shown.size() / 2]);
  }

  [[nodiscard]] bool known(std::size_t p) const {
    return !numbers_in(p).empty() || (!in_use(p) && !claim_of(p).first.numbers.empty());
  }
  [[nodiscard]] int first_number(std::size_t p) const {
    const std::set<int> own = numbers_in(p);
    return own.empty() ? claim_of(p).first.numbers.front() : *own.begin();
  }
  [[nodiscard]] int last_number(std::size_t p) const {
    const std::set<int> own = numbers_in(p);
    return own.empty() ? claim_of(p).first.numbers.back() : *own.rbegin();
  }

  void by_order(ViewKind view) {
    const std::vector<std::size_t> members = group(view);
    const auto open = [&](std::size_t p) { return !known(p) && in_use(p) && disbelieved_.count(p) == 0; };
    if (std::none_of(members.begin(), members.end(), open)) return;
    const int usual = usual_places(members);
    std::optional<std::size_t> before;  // place in `members` of the last known photograph
    std::vector<std::size_t> run;
    const bool any_known = std::any_of(members.begin(), members.end(), [&](std::size_t p) { return known(p); });
    if (!any_known) {
      const int start = task_.start.value_or(1);
      note(std::string("nothing tells the numbers in the ") + view_word(view) +
           " photographs: counted in the order of their names from " + std::to_string(start) +
           " on; lay one number tag or start at the painted link");
      number_run(members, start, usual);
      return;
    }
    for (const std::size_t p : members) {
      if (!known(p)) {
        run.push_back(p);
        continue;
      }
      close_run(run, before, p, usual);
      run.clear();
      before = p;
    }
    if (before && !run.empty()) number_run(run, last_number(*before) + 1, usual);
  }

  void close_run(const std::vector<std::size_t>& run, std::optional<std::size_t> before, std::size_t after, int usual) {
    if (run.empty()) return;
    int places = 0;
    for (const std::size_t p : run) places += row_places(p, usual);
    const int start = before ? last_number(*before) + 1 : first_number(after) - places;
    if (start + places == first_number(after) && start >= 1) {
      number_run(run, start, usual);
      return;
    }
    std::string between = before ? "between " + name(*before) + " and " + name(after) : "before " + name(after);
    note(between + " the photographs show " + counted(places, "cutter") + " where " +
         std::to_string(std::max(0, first_number(after) - (before ? last_number(*before) + 1 : 1))) +
         " should be: one is missing or doubled, so none of them is numbered; lay a tag beside one");
  }

  /// Numbers photographs in a row; stops where a hand contradicts the sequence.
  void number_run(const std::vector<std::size_t>& run, int start, int usual) {
    int number = start;
    for (const std::size_t p : run) {
      const int places = row_places(p, usual);
      if (in_use(p) && !hands_fit(p, number)) {
        note(name(p) + ": its cutter is not of the hand that number " + std::to_string(number) +
             " must have: a photograph before it is missing or doubled; numbering by order stops here");
        return;
      }
      for (int i = 0; in_use(p) && disbelieved_.count(p) == 0 && i < places; ++i) {
        const std::size_t place = sign() > 0 ? static_cast<std::size_t>(i) : static_cast<std::size_t>(places - 1 - i);
        give(p, order_[p][place].cutter, number + i, NumberedBy::kOrder);
      }
      if (!in_use(p)) {
        result_.retakes.push_back({number, std::nullopt, task_.photos[p].photo_path, task_.photos[p].refusal->what});
        asked_.insert(p);
      }
      number += places;
    }
  }

  /// The first numbered photograph in a row may set the hands where nothing else has.
  bool hands_fit(std::size_t p, int number) {
    const int places = static_cast<int>(order_[p].size());
    for (int i = 0; i < places; ++i) {
      const std::size_t place = sign() > 0 ? static_cast<std::size_t>(i) : static_cast<std::size_t>(places - 1 - i);
      const std::optional<Hand>& hand = task_.photos[p].cutters[order_[p][place].cutter].measured.hand;
      if (!hand) continue;
      if (!result_.sequence.first) {
        result_.sequence.first = Hand::kLeft;
        if (result_.sequence.hand_of(number + i) != *hand) result_.sequence.first = Hand::kRight;
      }
      if (result_.sequence.hand_of(number + i) != *hand) return false;
    }
    return true;
  }

  // --- what to take again ----------------------------------------------------------------------------------------

  void ask_again(std::size_t p) {
    const Inspection& photo = task_.photos[p];
    if (!photo.refusal || asked_.count(p) > 0) return;
    Retake retake;
    const PhotoClaim claim = claim_of(p).first;
    if (!claim.numbers.empty()) retake.number = claim.numbers.front();
    if (photo.card && !photo.card->tags.empty()) retake.number = photo.card->tags.front().number;
    retake.view = claim.view;
    retake.photo_path = photo.photo_path;
    retake.why = photo.refusal->what;
    result_.retakes.push_back(retake);
  }

  void tell_unnumbered() {
    for (std::size_t p = 0; p < task_.photos.size(); ++p) {
      if (!in_use(p) || order_[p].empty() || !numbers_in(p).empty()) continue;
      note(name(p) + ": which cutter it shows is not known, so its values stand for none");
    }
  }

  NumberingTask task_;
  std::vector<std::vector<PlacedCutter>> order_;
  CutterSpacing spacing_;
  Numbering result_;
  std::set<std::size_t> left_out_;
  std::set<std::size_t> disbelieved_;  ///< their tag or name was wrong: the order is not asked either
  std::set<std::size_t> asked_;
  int proofs_ = 0;
};

/// Cutters that are seen in one view only, though the other one was taken of others.
int lacking_a_view(const Numbering& numbering, const std::vector<Inspection>& photos) {
  std::map<int, std::set<ViewKind>> seen;
  for (std::size_t p = 0; p < photos.size(); ++p) {
    for (const auto& number : numbering.numbers[p]) {
      if (number) seen[number->number].insert(photos[p].view);
    }
  }
  return static_cast<int>(
      std::count_if(seen.begin(), seen.end(), [](const auto& cutter) { return cutter.second.size() < 2; }));
}

}  // namespace

Numbering number_cutters(const NumberingTask& task) {
  NumberRun behind(task, Counting::kBehind);
  Numbering as_behind = behind.run();
  NumberRun ahead(task, Counting::kAhead);
  Numbering as_ahead = ahead.run();
  if (task.sheet.counting) return *task.sheet.counting == Counting::kBehind ? as_behind : as_ahead;
  if (behind.proofs() != ahead.proofs()) return behind.proofs() > ahead.proofs() ? as_behind : as_ahead;
  const int lacking = lacking_a_view(as_behind, task.photos);
  const int otherwise = lacking_a_view(as_ahead, task.photos);
  if (lacking <= otherwise) return as_behind;
  as_ahead.notes.push_back(
      "numbers taken to grow in the running direction, because more cutters then show both views; write counting into "
      "the chain's sheet to settle it");
  return as_ahead;
}

}  // namespace glintline
