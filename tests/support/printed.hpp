// A figure against what a source prints.
#pragma once

#include <doctest/doctest.h>

#include <cmath>

/// |got - printed| within half of the last printed digit, given as `half_digit`.
inline void check_printed(double got, double printed, double half_digit) {
    CAPTURE(got);
    CAPTURE(printed);
    CHECK(std::abs(got - printed) <= half_digit);
}
