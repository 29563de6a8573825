// The linear solvers against a matrix whose inverse is known in whole numbers, Hilbert's.
// Source: closed form (Hilbert 1894), from memory.
#include <doctest/doctest.h>

#include "signal/linear.hpp"

using namespace evenstroke;

namespace {

Eigen::MatrixXd hilbert(Eigen::Index rows, Eigen::Index columns) {
    return Eigen::MatrixXd::NullaryExpr(rows, columns, [](Eigen::Index row, Eigen::Index column) {
        return 1 / static_cast<double>(row + column + 1);
    });
}

/// Of the 4 x 4 matrix; its condition is 1.6e4, so that 1e-11 of the largest entry is what doubles can give.
Eigen::MatrixXd hilbert_inverse() {
    Eigen::MatrixXd inverse(4, 4);
    inverse << 16, -120, 240, -140, -120, 1200, -2700, 1680, 240, -2700, 6480, -4200, -140, 1680, -4200, 2800;
    return inverse;
}

constexpr double as_close = 1e-7;

}  // namespace

TEST_CASE("linear: Hilbert's matrix -> its inverse in whole numbers") {
    CHECK((signal::inverse_symmetric(hilbert(4, 4)) - hilbert_inverse()).cwiseAbs().maxCoeff() < as_close);
    CHECK((signal::pseudo_inverse(hilbert(4, 4)) - hilbert_inverse()).cwiseAbs().maxCoeff() < as_close);
    const Eigen::VectorXd unit = Eigen::VectorXd::Unit(4, 2);
    CHECK((signal::solve_symmetric(hilbert(4, 4), unit) - hilbert_inverse().col(2)).cwiseAbs().maxCoeff() <
          as_close);
}

TEST_CASE("linear: more equations than unknowns -> what is left stands upright on the columns") {
    const Eigen::MatrixXd a = hilbert(7, 3);
    const Eigen::VectorXd b = Eigen::VectorXd::LinSpaced(7, -1, 2).array().square();
    const Eigen::VectorXd x = signal::least_squares(a, b);
    CHECK((a * x - b).norm() > 0.01);
    CHECK((a.transpose() * (a * x - b)).cwiseAbs().maxCoeff() < 1e-12);
    CHECK((signal::pseudo_inverse(a) * b - x).cwiseAbs().maxCoeff() < 1e-9);
}

TEST_CASE("linear: fewer equations than unknowns -> the shortest solution") {
    Eigen::MatrixXd a(1, 2);
    a << 3, 4;
    const Eigen::VectorXd x = signal::pseudo_inverse(a) * Eigen::VectorXd::Constant(1, 25);
    CHECK(x[0] == doctest::Approx(3).epsilon(1e-14));
    CHECK(x[1] == doctest::Approx(4).epsilon(1e-14));
    // Twice the same column: the weight is shared.
    const Eigen::VectorXd shared =
        signal::pseudo_inverse(Eigen::MatrixXd::Ones(3, 2)) * Eigen::VectorXd::Ones(3);
    CHECK((shared - Eigen::VectorXd::Constant(2, 0.5)).cwiseAbs().maxCoeff() < 1e-14);
}
