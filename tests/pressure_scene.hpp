// What the tests of a cylinder's pressure share.
#pragma once

#include "evenstroke/engine.hpp"
#include "evenstroke/pressure.hpp"

/// What a user knows of an engine.
inline evenstroke::PressureOptions dimensions_of(const evenstroke::Geometry& geometry) {
    evenstroke::PressureOptions known;
    known.bore_m = geometry.bore_m;
    known.stroke_m = geometry.stroke_m;
    known.rod_m = geometry.rod_m;
    known.compression_ratio = geometry.compression_ratio;
    return known;
}
