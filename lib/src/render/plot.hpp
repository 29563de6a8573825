// A picture of values over values as inline SVG: axes with round labels, lines, marks. It has no colours: the
// page's style gives them by class.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenstroke::render {

/// The range that an axis shows, and the values in it that are labelled.
struct Axis {
    double low = 0;
    double high = 1;
    std::vector<double> ticks = {};
    double tick_step = 1;
};

/// An axis over [low, high] with at most `most_ticks` round ticks, widened where the range is nothing. Empty
/// unless both are finite and in order.
[[nodiscard]] std::optional<Axis> axis_over(double low, double high, int most_ticks);

struct PlotPoint {
    double x = 0;
    double y = 0;
};

/// The lowest and the highest of the finite points in each of `columns` equal parts of [low, high], in the
/// order in which they came: as many points at most as a picture can show, however many there are.
[[nodiscard]] std::vector<PlotPoint> reduced(std::size_t count,
                                             const std::function<PlotPoint(std::size_t)>& point, double low,
                                             double high, int columns);

/// A picture as it grows; what is drawn later lies above. Values beyond the axes are drawn at their ends.
class Plot {
  public:
    Plot(Axis x, Axis y);

    /// A line through the points; one that is not finite leaves a gap.
    void line(const std::vector<PlotPoint>& points, std::string_view css_class);
    /// A band from `from_x` to `to_x` over the whole height, bounded by two lines, named above.
    void band(double from_x, double to_x, std::string_view words);
    /// A line over the whole height, named above it in `row`: 0 is next to the frame.
    void upright(double x, std::string_view words, int row);
    /// Words over the left end of the frame, in that row.
    void heading(std::string_view words, int row);

    /// The whole picture. `description` is what someone hears who does not see it; plain text, as the labels.
    [[nodiscard]] std::string svg(std::string_view description, std::string_view x_label,
                                  std::string_view y_label) const;

  private:
    [[nodiscard]] double across(double x) const;
    [[nodiscard]] double down(double y) const;

    Axis x_;
    Axis y_;
    std::string drawn_;
};

}  // namespace evenstroke::render
