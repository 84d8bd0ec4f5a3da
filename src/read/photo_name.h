#pragma once

#include <string_view>

#include "model/photo_claim.h"

namespace glintline {

/// What a photograph's file name claims, folders left out. Whole words count, parted by anything that is no letter or
/// digit, and where letters and digits meet.
///
///   numbers  c07, cutter 7, no7; else the number beside a view's word ("ridge-plan-7", "7 profile"); else a name that
///            is nothing but a number of up to three digits. "c07-c08" names two. A camera's own IMG_2034 claims
///            nothing
///   view     plan, top, above; profile, side
///   hand     left, right
[[nodiscard]] PhotoClaim claim_of_name(std::string_view path);

}  // namespace glintline
