#include "savitzky_golay.hpp"

#include <Eigen/Core>
#include <cassert>
#include <cmath>
#include <numeric>

#include "linear.hpp"

namespace evenstroke::signal {

std::vector<double> savitzky_golay_weights(const PolynomialWindow& shape, double at) {
    assert(shape.window % 2 == 1 && shape.degree >= 0 && shape.window > shape.degree);
    assert(shape.derivative >= 0);
    const int half = shape.window / 2;
    const double reach = half > 0 ? half : 1;  // abscissae scaled to [-1, 1] keep the powers well conditioned
    Eigen::MatrixXd powers(shape.window, shape.degree + 1);
    for (int row = 0; row < shape.window; ++row)
        for (int power = 0; power <= shape.degree; ++power)
            powers(row, power) = std::pow((row - half) / reach, power);
    // d-th derivative of each power at `at`: p (p-1) … (p-d+1) x^(p-d), back in samples.
    Eigen::VectorXd wanted = Eigen::VectorXd::Zero(shape.degree + 1);
    for (int power = shape.derivative; power <= shape.degree; ++power) {
        double factor = 1;
        for (int i = 0; i < shape.derivative; ++i) factor *= (power - i) / reach;
        wanted(power) = factor * std::pow(at / reach, power - shape.derivative);
    }
    // weights w with powersᵀ w = wanted and least length: exactly the fitted polynomial at `at`.
    const Eigen::VectorXd weights = shortest_solution(powers.transpose(), wanted);
    return {weights.begin(), weights.end()};
}

std::vector<double> savitzky_golay(std::span<const double> values, const PolynomialWindow& shape) {
    const auto window = static_cast<std::size_t>(shape.window);
    if (values.size() < window) return {};
    const std::size_t half = window / 2;
    const auto apply = [&values](const std::vector<double>& weights, std::size_t first) {
        return std::inner_product(weights.begin(), weights.end(),
                                  values.begin() + static_cast<std::ptrdiff_t>(first), 0.0);
    };
    std::vector<double> result(values.size());
    const auto middle = savitzky_golay_weights(shape);
    for (std::size_t i = half; i + half < values.size(); ++i) result[i] = apply(middle, i - half);
    for (std::size_t i = 0; i < half; ++i) {
        const double from_middle = static_cast<double>(half - i);
        result[i] = apply(savitzky_golay_weights(shape, -from_middle), 0);
        result[values.size() - 1 - i] =
            apply(savitzky_golay_weights(shape, from_middle), values.size() - window);
    }
    return result;
}

}  // namespace evenstroke::signal
