#pragma once

// Moved to math, where locate finds it too; plan's sources still come here for it.
#include "math/linear_light.h"
