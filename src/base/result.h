#pragma once

#include <cassert>
#include <string>
#include <utility>
#include <variant>

namespace glintline {

/// Why something could not be done, in the order in which a photograph meets the stages. The command line maps each
/// to an exit code and the record stores it by name, so enumerators are added at the end of their group only.
enum class Fault {
  kBadOption,       ///< what the user typed, or wrote into a set-up, sheet or camera file, makes no sense
  kFileMissing,     ///< no such file, or not readable
  kNotAPicture,     ///< the bytes are no picture that is understood
  kDamagedPicture,  ///< truncated or broken
  kTooLarge,        ///< more pixels than accepted
  kTooSmall,        ///< too few pixels to measure anything
  kTooCoarse,       ///< compressed until steel's edges are gone
  kNoCard,          ///< no square of any known card seen
  kWrongCard,       ///< markers seen, but of another board or another sheet
  kCardHidden,      ///< too little of the card seen
  kTilted,          ///< the camera looks on too obliquely
  kBlurred,         ///< out of focus or moved at the cutter
  kNoCutter,        ///< the card is there, a cutter is not
  kNotMeasurable,   ///< a cutter is there, but the wanted quantity cannot be had from this picture
  kCannotWrite,     ///< an output file could not be written
  kUnforeseen,      ///< a defect of the program, or memory ran out
};

/// A refusal, as a person reads it. `what` says what was seen and what to do: "3 squares of the card seen, 12 needed:
/// move back or uncover the card". `where` names the file, or the place in it; it may be empty.
struct Error {
  Fault fault;
  std::string what;
  std::string where;
};

/// A value, or the Error that stood in its way. Cannot-measure travels in here; a bug is an assert.
template <typename T>
class [[nodiscard]] Result {
 public:
  Result(T value) : content_(std::move(value)) {}      // NOLINT(google-explicit-constructor)
  Result(Error error) : content_(std::move(error)) {}  // NOLINT(google-explicit-constructor)

  [[nodiscard]] bool ok() const { return std::holds_alternative<T>(content_); }
  explicit operator bool() const { return ok(); }

  [[nodiscard]] const T& value() const& {
    assert(ok());
    return std::get<T>(content_);
  }
  [[nodiscard]] T&& value() && {
    assert(ok());
    return std::get<T>(std::move(content_));
  }
  [[nodiscard]] const Error& error() const {
    assert(!ok());
    return std::get<Error>(content_);
  }

  const T& operator*() const& { return value(); }
  const T* operator->() const { return &value(); }

 private:
  std::variant<T, Error> content_;
};

/// A Result of nothing but success.
struct Done {};

}  // namespace glintline
