// A measured figure and how sure it is.
#pragma once

namespace evenstroke {

/// A figure with its 95 % interval; unit in the field's name.
struct Figure {
    double value = 0;
    double low = 0;
    double high = 0;
};

}  // namespace evenstroke
