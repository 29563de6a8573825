// The mark of a test that the sanitizers leave out.
#pragma once

#include <doctest/doctest.h>

namespace evenstroke::test {

/// TEST_CASE("…" * test::once): it turns, shifts or scales a recording to see the same answer, or draws many
/// engines, and so runs the same code over and over. Once, without the sanitizers, is enough.
inline const doctest::test_suite once("once");

}  // namespace evenstroke::test
