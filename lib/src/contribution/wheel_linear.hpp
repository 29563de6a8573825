// The linear model's answer: what a wheel's speed says where the forward model has too few cycles. Private.
#pragma once

#include "wheel_answer.hpp"

namespace evenstroke::contribution::wheel {

/// Whether `fit` found more than masses alone imitate.
[[nodiscard]] bool strong(const LinearFit& fit);

/// Whether that also stands out of the scatter and of what the linear model lacks.
[[nodiscard]] bool compresses(const WheelMotion& motion, const LinearFit& fit);

/// What `fit`, in which something compresses, says of the cylinders.
[[nodiscard]] Answer linear_answer(const WheelMotion& motion, const EngineLayout& layout,
                                   const LinearFit& fit);

}  // namespace evenstroke::contribution::wheel
