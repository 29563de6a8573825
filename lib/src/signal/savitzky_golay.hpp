// Savitzky-Golay smoothing and differentiation: a polynomial fitted by least squares in a sliding window.
// No stage needs it yet; it is held against references and scipy for whoever adds one.
#pragma once

#include <span>
#include <vector>

namespace evenstroke::signal {

/// What to fit. `window` is odd and > `degree`; `derivative` is 0 for smoothing.
struct PolynomialWindow {
    int window = 5;
    int degree = 2;
    int derivative = 0;
};

/// Weights of the window's values, oldest first, that give the fitted polynomial (or its derivative, per
/// sample^derivative) at `at` samples from the window's middle (-window/2 … window/2).
/// Computed by least squares: printed tables have misprints. Source: Savitzky & Golay, Anal. Chem. 36 (1964)
/// 1627, corrected by Steinier, Termonia & Deltour, Anal. Chem. 44 (1972) 1906; ends by Gorry 1990.
[[nodiscard]] std::vector<double> savitzky_golay_weights(const PolynomialWindow& shape, double at = 0);

/// The whole signal: the middle of each window, and at the ends the polynomial of the first and last window.
/// Same length as `values`; derivatives per sample^derivative. Empty when there are fewer values than
/// `window`.
[[nodiscard]] std::vector<double> savitzky_golay(std::span<const double> values,
                                                 const PolynomialWindow& shape);

}  // namespace evenstroke::signal
