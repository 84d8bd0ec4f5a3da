#include "report/html_report.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <nlohmann/json.hpp>

#include "report/browser.h"
#include "report/report_view.h"
#include "report/sample_chain.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using namespace testing;  // NOLINT(google-build-using-namespace)
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

ChainInspection chain_with(ChainAction verdict, const std::vector<Action>& actions) {
  ChainInspection inspection;
  inspection.verdict.action = verdict;
  for (const Action action : actions) {
    JoinedCutter cutter;
    cutter.number = static_cast<int>(inspection.cutters.size()) + 1;
    cutter.verdict.action = action;
    inspection.cutters.push_back(cutter);
  }
  return inspection;
}

TEST(ThreeWords, AreThreeAndSayTheWorst) {
  using A = Action;
  EXPECT_EQ(three_words(chain_with(ChainAction::kRetire, {A::kFile})), "RETIRE THIS CHAIN");
  EXPECT_EQ(three_words(chain_with(ChainAction::kOutOfUse, {A::kGaugeTooLow})), "DO NOT RUN");
  EXPECT_EQ(three_words(chain_with(ChainAction::kUse, {A::kLeave})), "READY TO CUT");
  EXPECT_EQ(three_words(chain_with(ChainAction::kUndecided, {A::kUndecided})), "LOOK AGAIN FIRST");
  EXPECT_EQ(three_words(chain_with(ChainAction::kFile, {A::kFile, A::kTouchUp})), "FILE ALL CUTTERS");
  EXPECT_EQ(three_words(chain_with(ChainAction::kFile, {A::kFile, A::kTouchUp, A::kLeave})), "FILE 2 CUTTERS");
  EXPECT_EQ(three_words(chain_with(ChainAction::kFile, {A::kFile, A::kLeave})), "FILE ONE CUTTER");
  EXPECT_EQ(three_words(chain_with(ChainAction::kFile, {A::kLowerGauge, A::kLeave})), "LOWER ONE GAUGE");
}

TEST(ThreeWords, ASharpCutterThatThePlanShortensIsFiledToo) {
  ChainInspection inspection = chain_with(ChainAction::kFile, {Action::kFile, Action::kLeave});
  CutterWork work;
  work.number = 2;
  work.action = Action::kFile;
  inspection.plan.work = {work};
  EXPECT_EQ(three_words(inspection), "FILE ALL CUTTERS");
  inspection.cutters[1].verdict.action = Action::kUndecided;
  EXPECT_EQ(three_words(inspection), "FILE ALL CUTTERS");
}

std::vector<int> numbers_in(const ViewJson& list) {
  std::vector<int> numbers;
  for (const ViewJson& entry : list) numbers.push_back(entry["number"].get<int>());
  return numbers;
}

TEST(HtmlReport, WorstComesFirst) {
  const ViewJson head = head_view(sample_report());
  // Retire (21), undecided (14), then the chipped one (7).
  EXPECT_EQ(numbers_in(head["worst"])[0], 21);
  EXPECT_EQ(numbers_in(head["worst"])[1], 14);
  EXPECT_EQ(numbers_in(head["worst"])[2], 7);
}

TEST(HtmlReport, TheOrderOfFilingIsThePlans) {
  const ViewJson order = order_view(sample_report().recorded.inspection);
  ASSERT_EQ(order["rounds"].size(), 2U) << "one hand after the other";
  const std::vector<int> left = numbers_in(order["rounds"][0]["rows"]);
  EXPECT_EQ(left.front(), 1);
  EXPECT_EQ(left[1], 3);
  EXPECT_EQ(numbers_in(order["rounds"][1]["rows"]).front(), 2);
}

TEST(HtmlReport, EveryCutterHasItsPlaceInTheStripAlsoTheUnseen) {
  const ViewJson strip = strip_view(sample_report().recorded.inspection);
  std::size_t cells = 0;
  for (const ViewJson& hand : strip["hands"]) cells += hand["cells"].size();
  EXPECT_EQ(cells, 36U);
  EXPECT_EQ(numbers_in(strip["hands"].back()["cells"]), (std::vector<int>{35, 36}));
}

TEST(HtmlReport, WhatAsksForNothingIsNoReason) {
  ReportContent content = sample_report();
  Verdict& verdict = content.recorded.inspection.cutters[6].verdict;
  verdict.findings.push_back({"length", Standing::kWithin, "length 8.10 mm: long enough"});
  verdict.why.push_back("length 8.10 mm: long enough");
  const ViewJson why = cutter_views(content)[6]["why"];
  EXPECT_EQ(why.size(), 2U) << why;
}

TEST(HtmlReport, EscapesEveryText) {
  ReportContent content = sample_report();
  const std::string villain = "</script><script>alert('villain')</script><!--\"'&\x1b[31m\xFF";
  content.recorded.chain = villain;
  content.recorded.stage = villain;
  content.recorded.inspection.verdict.why = {villain};
  content.recorded.inspection.photos[0].photo_path = villain;
  content.recorded.inspection.cutters[0].verdict.why = {villain};
  content.recorded.inspection.limits.most_drop_mm.source = villain;
  content.pictures[0].caption = villain;
  content.comparison->cutters[0].changes[0].text = villain;
  content.history->statements = {villain};
  content.history->points[0].stage = villain;
  content.history->events[1].note = villain;
  const std::string page = html_report(content);
  EXPECT_THAT(page, Not(HasSubstr("<script>alert")));
  EXPECT_THAT(page, Not(HasSubstr("\x1b")));
  EXPECT_THAT(page, Not(HasSubstr("\xFF")));
  EXPECT_THAT(page, HasSubstr("&lt;/script&gt;&lt;script&gt;alert"));
  EXPECT_THAT(page, HasSubstr("\\u003c/script\\u003e")) << "in the charts' data";
}

TEST(HtmlReport, NeedsNothingFromOutside) {
  std::string page = html_report(sample_report());
  for (const char* reference : {"src=\"http", "href=\"http", "url(http", "@import", "<link rel=\"stylesheet"}) {
    EXPECT_THAT(page, Not(HasSubstr(reference)));
  }
  EXPECT_THAT(page, HasSubstr("src=\"data:image/jpeg;base64,"));
}

TEST(HtmlReport, SaysWhoSetsTheLimitsAndThatItIsAdvice) {
  const std::string page = html_report(sample_report());
  EXPECT_THAT(page, HasSubstr("chain sheet Bench loop 1"));
  EXPECT_THAT(page, HasSubstr("Engine off"));
  EXPECT_THAT(page, HasSubstr("instruction and local rules come first"));
  EXPECT_THAT(page, HasSubstr("cutters 35 and 36"));
  EXPECT_THAT(page, HasSubstr("8.10"));
}

TEST(HtmlReport, AnInspectionOfNothingIsStillAPage) {
  const std::string page = html_report({});
  EXPECT_THAT(page, HasSubstr("LOOK AGAIN FIRST"));
  EXPECT_THAT(page, Not(HasSubstr("{{")));
}

TEST(ReportCharts, ShowTheIntervalNotOnlyTheValue) {
  const ReportContent content = sample_report();
  const ViewJson charts = chart_data(content);
  const JoinedCutter& first = content.recorded.inspection.cutters[0];
  const ViewJson& left = charts["drop"]["series"][0];
  EXPECT_NEAR(left["values"][0].get<double>(), first.measured.gauge_drop_mm->value, 1e-4);
  EXPECT_NEAR(left["spans"][0][0].get<double>(), first.measured.gauge_drop_mm->value - 0.04, 2e-4);
  EXPECT_NEAR(left["spans"][0][1].get<double>(), first.measured.gauge_drop_mm->value + 0.04, 2e-4);
  EXPECT_TRUE(left["values"][1].is_null()) << "the other hand's cutter";
  EXPECT_TRUE(charts["rounding"]["series"][0]["values"][4].is_null()) << "only a limit is known";
  EXPECT_EQ(charts["rounding"]["series"][0]["spans"][4][1], 22);
  EXPECT_TRUE(charts["edge-7"]["radius"][21]["y"].is_null()) << "no rounding inside a chip";
  EXPECT_FALSE(charts.contains("edge-5"));
}

/// `count` cutters, all filed and compared: the fullest sheet.
ReportContent filed_chain(int count) {
  ReportContent content = sample_report();
  ChainInspection& chain = content.recorded.inspection;
  const ComparedCutter proof = content.comparison->cutters[0];
  const JoinedCutter pattern = chain.cutters[0];
  const CutterWork work = chain.plan.work[0];
  chain.cutters.clear();
  chain.plan.work.clear();
  chain.plan.filing_order.clear();
  content.comparison->cutters.clear();
  for (int number = 1; number <= count; ++number) {
    chain.cutters.push_back(pattern);
    chain.cutters.back().number = number;
    chain.cutters.back().hand = number % 2 == 1 ? Hand::kLeft : Hand::kRight;
    chain.plan.work.push_back(work);
    chain.plan.work.back().number = number;
    chain.plan.work.back().gauge_take_mm = work.take_mm;
    chain.plan.work.back().notes = {"gauge right or a little high after filing: lay the gauge tool on it"};
    content.comparison->cutters.push_back(proof);
    content.comparison->cutters.back().number = number;
  }
  for (const int start : {1, 2}) {
    for (int number = start; number <= count; number += 2) chain.plan.filing_order.push_back(number);
  }
  content.filed_by_plan = true;
  return content;
}

std::vector<int> numbers_on(const ViewJson& sheet) {
  std::vector<int> numbers;
  for (const ViewJson& group : sheet["groups"]) {
    for (const int number : numbers_in(group["rows"])) numbers.push_back(number);
  }
  return numbers;
}

TEST(BenchSheet, HoldsWhatToDoAndWhatCameOfItInOneRow) {
  const ViewJson bench = bench_view(sample_report());
  ASSERT_EQ(bench["sheets"].size(), 1U);
  EXPECT_EQ(numbers_on(bench["sheets"][0]).size(), 34U);
  const ViewJson& row = bench["sheets"][0]["groups"][0]["rows"][3];
  EXPECT_EQ(row["number"], 7);
  EXPECT_EQ(row["place"], "4th") << "whose side it is stands in the title";
  EXPECT_EQ(row["take_u95"], "0.10");
  EXPECT_EQ(row["proof"]["taken"]["value"], "0.70");
  EXPECT_EQ(row["proof"]["taken"]["u95"], "0.10");
  EXPECT_FALSE(row["proof"]["taken"]["doubt"]);
  EXPECT_EQ(row["proof"]["chips"], "1 gone");
  EXPECT_EQ(row["proof"]["rounding_after"]["value"], "9");
  EXPECT_EQ(row["proof"]["drop_after"]["value"], "–") << "not compared";
  EXPECT_TRUE(bench["sheets"][0]["groups"][0]["rows"][0]["no_proof"]);
  EXPECT_EQ(bench["proof_words"], "ALL EDGES CLEAN");
}

TEST(BenchSheet, NamesTheCuttersToFileAgain) {
  ReportContent content = filed_chain(6);
  content.comparison->cutters[3].edge = EdgeAfter::kDamaged;
  content.comparison->cutters[3].chips[0].after_mm = Quantity{0.09, {{Source::kEdge, 0.015}}};
  content.comparison->cutters[4].edge = EdgeAfter::kNotKnown;
  content.comparison->cutters[4].searched_after = false;
  const ViewJson bench = bench_view(content);
  EXPECT_EQ(bench["proof_words"], "FILE AGAIN: 4");
  EXPECT_EQ(bench["sheets"][0]["groups"][1]["rows"][1]["proof"]["chips"], "0.09 ± 0.03 left");
  EXPECT_EQ(bench["sheets"][0]["groups"][1]["rows"][1]["proof"]["edge_word"], "again");
  EXPECT_EQ(bench["sheets"][0]["groups"][0]["rows"][2]["proof"]["chips"], "not seen");
  EXPECT_TRUE(bench["roomy"]);
}

TEST(BenchSheet, SaysANoteOnceWithItsCutters) {
  const ViewJson notes = bench_view(filed_chain(4))["sheets"][0]["notes"];
  EXPECT_EQ(notes[0], "1, 3, 2, 4: gauge right or a little high after filing: lay the gauge tool on it");
}

TEST(BenchSheet, SaysSoWhereOneSheetDoesNotHoldTheChain) {
  const ViewJson bench = bench_view(filed_chain(60));
  ASSERT_EQ(bench["sheets"].size(), 2U);
  EXPECT_THAT(bench["sheets"][0]["goes_on"], HasSubstr("do not fit on one sheet"));
  EXPECT_EQ(bench["sheets"][1]["nth"], "sheet 2 of 2");
  std::vector<int> numbers = numbers_on(bench["sheets"][0]);
  for (const int number : numbers_on(bench["sheets"][1])) numbers.push_back(number);
  EXPECT_EQ(numbers, filed_chain(60).recorded.inspection.plan.filing_order) << "every cutter once, in filing order";
  for (const ViewJson& sheet : bench["sheets"]) EXPECT_TRUE(sheet["groups"][0]["headed"]);
}

// In a browser. The page lies in a frame as wide as a phone's screen; a script beside it tells what it sees there.

constexpr const char* kProbe = R"(<!DOCTYPE html><meta charset="utf-8"><body>
<iframe id="phone" src="report.html" style="width:360px;height:640px;border:0"></iframe><pre id="seen"></pre>
<script>
window.addEventListener('load', function () {
  var frame = document.getElementById('phone').contentWindow, page = frame.document, root = page.documentElement;
  function ink(canvas) {
    var d = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data, n = 0;
    for (var i = 3; i < d.length; i += 4) n += d[i] > 0;
    return n / (canvas.width * canvas.height);
  }
  var h1 = page.querySelector('h1'), box = h1.getBoundingClientRect();
  var wide = Array.prototype.filter.call(page.querySelectorAll('body *'), function (e) {
    var r = e.getBoundingClientRect(); return r.width > 0 && r.right > 361;
  }).map(function (e) { return e.tagName + '.' + e.getAttribute('class'); });
  var canvases = Array.prototype.slice.call(page.querySelectorAll('canvas'));
  document.getElementById('seen').textContent = 'SEEN' + JSON.stringify({
    width: root.scrollWidth, wide: wide.slice(0, 5), h1_top: box.top, h1_bottom: box.bottom,
    h1_px: parseFloat(frame.getComputedStyle(h1).fontSize), words: h1.textContent.trim(),
    worst_top: page.querySelector('.worst') ? page.querySelector('.worst').getBoundingClientRect().top : null,
    charts: canvases.length, blank: canvases.filter(function (c) { return ink(c) < 0.01; }).length,
    drawn: root.getAttribute('data-charts'), pictures: Array.prototype.filter.call(page.images, function (i) { return i.naturalWidth > 0; }).length
  }) + 'END';
});
</script>)";

/// Where the page is written; kept when GLINTLINE_KEEP_REPORT names a folder, for people to look at.
fs::path written_page(const ScratchFolder& folder, const std::string& page) {
  if (const char* keep = std::getenv("GLINTLINE_KEEP_REPORT")) {
    fs::create_directories(keep);
    std::ofstream(fs::path(keep) / "report.html") << page;
  }
  return folder.file("report.html", page);
}

TEST(HtmlReportInChromium, ReadsOnAPhoneWithoutAComplaint) {
  const ScratchFolder folder;
  written_page(folder, html_report(sample_report()));
  const auto run = browse(folder.file("probe.html", kProbe), {"--window-size=800,900", "--dump-dom"});
  if (!run) GTEST_SKIP() << "Chromium is not installed";
  EXPECT_THAT(run->console, IsEmpty());
  const std::size_t from = run->out.find("SEEN{");
  ASSERT_NE(from, std::string::npos) << run->out.substr(0, 300);
  const std::size_t to = run->out.find("}END", from);
  const nlohmann::json seen = nlohmann::json::parse(run->out.substr(from + 4, to - from - 3));
  EXPECT_LE(seen["width"], 360) << "nothing to be pushed sideways: " << seen["wide"];
  EXPECT_EQ(seen["words"], "FILE 33 CUTTERS");
  // At arm's length (0.7 m) letters of 20 minutes of arc are 4 mm high; at a phone's 6 px a mm, capitals of 0.7 em
  // want 35 px. Twice that, for gloves, sun and a dirty screen. (20 minutes of arc: common practice, no source.)
  EXPECT_GE(seen["h1_px"], 50);
  EXPECT_LT(seen["h1_bottom"], 420) << "the three words stand on the first screen";
  EXPECT_LT(seen["worst_top"], 640) << "and the worst cutter too";
  EXPECT_EQ(seen["drawn"], std::to_string(seen["charts"].get<int>()));
  EXPECT_EQ(seen["blank"], 0);
  EXPECT_EQ(seen["pictures"], 3);
}

int pages_of(const fs::path& pdf) {
  const ScratchFolder folder;
  const std::string told = (folder / "info").string();
  const std::string command = "pdfinfo '" + pdf.string() + "' > '" + told + "' 2>&1";
  if (std::system(command.c_str()) != 0) return -1;
  const std::string info = text_of(told);
  EXPECT_THAT(info, HasSubstr("A4"));
  return std::stoi(info.substr(info.find("Pages:") + 6));
}

/// The pages' text of what the button "Print the sheet for the bench" prints; empty without Chromium.
std::vector<std::string> printed_sheets(const ReportContent& content) {
  const ScratchFolder folder;
  std::string page = html_report(content);
  page.replace(page.find("<html lang"), 5, "<html class=\"sheet-only\"");
  const fs::path pdf = folder / "sheet.pdf";
  if (!browse(written_page(folder, page), {"--no-pdf-header-footer", "--print-to-pdf=" + pdf.string()})) return {};
  const std::string told = (folder / "text").string();
  if (std::system(("pdftotext -layout '" + pdf.string() + "' '" + told + "'").c_str()) != 0) return {};
  std::vector<std::string> pages;
  std::istringstream text(text_of(told));
  for (std::string one; std::getline(text, one, '\f');) pages.push_back(one);
  return pages;
}

TEST(BenchSheetInChromium, HoldsAWholeChainsPlanAndProofOnOneA4) {
  const std::vector<std::string> pages = printed_sheets(filed_chain(36));
  if (pages.empty()) GTEST_SKIP() << "Chromium is not installed";
  ASSERT_EQ(pages.size(), 1U);
  for (int number = 1; number <= 36; ++number) {
    EXPECT_THAT(pages[0], HasSubstr(std::string("\n").append(std::to_string(number)).append("  ")));
  }
  for (const char* text : {"FILE", "Bench loop 1", "2026-11-02 14:30", "Engine off", "ALL EDGES CLEAN", "1 gone"}) {
    EXPECT_THAT(pages[0], HasSubstr(text));
  }
  EXPECT_EQ(printed_sheets(filed_chain(60)).size(), 2U);
  ReportContent wordy = filed_chain(36);
  wordy.comparison->verdict.assign(4, std::string(30, 'm') + " of words that take much of the sheet's room, " +
                                          "so that the cutters have to go on on another one");
  EXPECT_EQ(printed_sheets(wordy).size(), bench_view(wordy)["sheets"].size()) << "no sheet runs over";
}

TEST(HtmlReportInChromium, PrintsOnFewA4Pages) {
  const ScratchFolder folder;
  const fs::path page = written_page(folder, html_report(sample_report()));
  const fs::path pdf = folder / "report.pdf";
  const auto run = browse(page, {"--no-pdf-header-footer", "--print-to-pdf=" + pdf.string()});
  if (!run) GTEST_SKIP() << "Chromium is not installed";
  EXPECT_THAT(run->console, IsEmpty());
  ASSERT_TRUE(fs::exists(pdf));
  if (const char* keep = std::getenv("GLINTLINE_KEEP_REPORT"))
    fs::copy_file(pdf, fs::path(keep) / "report.pdf", fs::copy_options::overwrite_existing);
  const int pages = pages_of(pdf);
  EXPECT_GE(pages, 2);
  EXPECT_LE(pages, 20) << "two cutters or more a page";
}

}  // namespace
}  // namespace glintline
