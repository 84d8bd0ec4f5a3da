#include "cli/terminal.h"

#include <langinfo.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>

namespace glintline {
namespace {

bool is_set(const char* name) {
  const char* value = std::getenv(name);
  return value != nullptr && *value != '\0';
}

int width_of(bool terminal) {
  constexpr int kUsual = 80;
  constexpr int kLeast = 40;
  constexpr int kMost = 200;  // longer lines are hard to follow
  int width = is_set("COLUMNS") ? std::atoi(std::getenv("COLUMNS")) : 0;
  winsize window{};
  if (width <= 0 && terminal && ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &window) == 0) width = window.ws_col;
  return width <= 0 ? kUsual : std::clamp(width, kLeast, kMost);
}

}  // namespace

TableStyle terminal_style() {
  const bool terminal = ::isatty(STDOUT_FILENO) == 1;
  const bool dumb = is_set("TERM") && std::strcmp(std::getenv("TERM"), "dumb") == 0;
  TableStyle style;
  style.width = width_of(terminal);
  style.unicode = std::strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
  style.colour = terminal && !dumb && !is_set("NO_COLOR");
  return style;
}

Result<Done> print(const std::string& text) {
  const bool whole = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
  if (whole && std::fflush(stdout) == 0) return Done{};
  return Error{Fault::kCannotWrite, std::string("standard output cannot be written (") + std::strerror(errno) + ")",
               ""};
}

}  // namespace glintline
