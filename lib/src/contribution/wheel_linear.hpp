// The linear model's answer: what a wheel's speed says where the forward model has too few cycles. Private.
#pragma once

#include "wheel_answer.hpp"

namespace evenstroke::wheel {

/// Whether `fit` found more than masses alone imitate.
[[nodiscard]] bool strong(const Fit& fit);

/// Whether that also stands out of the scatter and of what the linear model lacks.
[[nodiscard]] bool compresses(const Motion& motion, const Fit& fit);

/// What `fit`, in which something compresses, says of the cylinders.
[[nodiscard]] Answer linear_answer(const Motion& motion, const EngineLayout& layout, const Fit& fit);

}  // namespace evenstroke::wheel
