// Recordings of an invented engine with their truth, from the same engine and starter physics.
#pragma once

#include "evenstroke/engine.hpp"
#include "evenstroke/recording.hpp"

namespace evenstroke {}  // namespace evenstroke
