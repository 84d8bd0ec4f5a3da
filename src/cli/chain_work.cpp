#include "cli/chain_work.h"

#include <spdlog/spdlog.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "base/text.h"
#include "cli/output.h"
#include "judge/judge_chain.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

/// Kept photographs that nobody asked for in so long are thrown away.
constexpr auto kKeptFor = std::chrono::hours(24 * 60);

/// Where programs keep what can be made again (freedesktop.org, XDG Base Directory Specification).
fs::path cache_folder() {
  const char* own = std::getenv("XDG_CACHE_HOME");
  if (own != nullptr && *own == '/') return fs::path(own) / "glintline";
  const char* home = std::getenv("HOME");
  return home != nullptr && *home == '/' ? fs::path(home) / ".cache" / "glintline" : fs::path();
}

void throw_away_old(const fs::path& folder) {
  std::error_code failed;
  const auto now = fs::file_time_type::clock::now();
  for (fs::directory_iterator at(folder, failed); !failed && at != fs::directory_iterator(); at.increment(failed)) {
    std::error_code ignored;
    const auto written = fs::last_write_time(at->path(), ignored);
    if (!ignored && at->path().extension() == ".json" && now - written > kKeptFor) fs::remove(at->path(), ignored);
  }
}

/// A line on a terminal that overwrites itself; lines in the log elsewhere, where they were asked for.
class Progress {
 public:
  explicit Progress(std::size_t all) : all_(all), terminal_(::isatty(STDERR_FILENO) == 1) {}
  ~Progress() {
    if (terminal_ && done_ > 0) std::fputs("\r\x1b[K", stderr);
  }
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

  void step(const Inspection& inspection, bool kept) {
    ++done_;
    kept_ += kept ? 1 : 0;
    const double seconds = std::chrono::duration<double>(Clock::now() - start_).count();
    std::string text = std::to_string(done_) + " of " + std::to_string(all_) + " photographs";
    if (kept_ > 0) text += ", " + std::to_string(kept_) + " kept from before";
    const std::string left = time_left(done_ - kept_, all_ - done_, seconds);
    if (!left.empty()) text += ", " + left + " left";
    spdlog::info("{}: {}", text, printable(inspection.photo_path));
    if (!terminal_) return;
    std::fprintf(stderr, "\r\x1b[K%s", text.c_str());
    std::fflush(stderr);
  }

 private:
  std::size_t all_;
  bool terminal_;
  Clock::time_point start_ = Clock::now();
  std::size_t done_ = 0;
  std::size_t kept_ = 0;
};

}  // namespace

std::string time_left(std::size_t done, std::size_t left, double seconds) {
  if (done == 0 || left == 0) return "";
  const double more = seconds / static_cast<double>(done) * static_cast<double>(left);
  constexpr double kMinute = 60;
  return more < 1.5 * kMinute ? "about " + fixed(std::ceil(more), 0) + " s"
                              : "about " + fixed(std::ceil(more / kMinute), 0) + " min";
}

Result<ChainOrder> chain_order_of(const ChainWorkOptions& options) {
  const Result<Order> read = order_of(options.look);
  if (!read.ok()) return read.error();
  ChainOrder order;
  order.order = *read;
  order.sheet = read->sheet.value_or(ChainSheet{});
  order.start = options.first;
  if (!options.list.empty()) {
    const auto list = read_cutter_list(options.list);
    if (!list.ok()) return list.error();
    order.list = *list;
  }
  for (const std::string& text : options.found) {
    const auto fault = reported_fault(text);
    if (!fault) {
      return Error{Fault::kBadOption,
                   std::string("is no known fault: ") + kKnownFaults + "; with a cutter's number as crack:12",
                   "--found " + text};
    }
    order.reported.push_back(*fault);
  }
  if (!options.strokes_from.empty()) {
    std::error_code ignored;
    if (!fs::exists(options.strokes_from, ignored)) {
      return Error{Fault::kFileMissing, "is not there: glintline compare --learn writes it", options.strokes_from};
    }
    const auto counts = read_stroke_counts(options.strokes_from);
    if (!counts.ok()) return counts.error();
    order.strokes = *counts;
  }
  if (options.fresh) return order;
  order.keep = options.keep.empty() ? cache_folder() : fs::path(options.keep);
  if (order.keep.empty()) return order;
  const Result<Done> made = make_folder(order.keep);
  if (!made.ok() && !options.keep.empty()) return made.error();
  if (!made.ok()) order.keep.clear();  // a home that cannot be written costs only the going on
  return order;
}

ChainInspection inspected(const std::vector<fs::path>& photos, const ChainOrder& order) {
  Progress progress(photos.size());
  ChainWatch watch;
  watch.finished = [&](std::size_t, const Inspection& inspection, bool kept) { progress.step(inspection, kept); };
  ChainInspection chain = inspect_chain(photos, order, watch);
  if (!order.keep.empty()) throw_away_old(order.keep);
  return chain;
}

}  // namespace glintline
