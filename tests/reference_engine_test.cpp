// Cylinder geometry against worked examples of references.md, section B1.
#include <doctest/doctest.h>

#include <cmath>

#include "evenstroke/engine.hpp"
#include "support/printed.hpp"

using namespace evenstroke;

namespace {

double piston_travel_m(const Geometry& geometry, double angle_deg) {
    const double area_m2 = pi / 4 * geometry.bore_m * geometry.bore_m;
    return (volume_m3(geometry, angle_deg * pi / 180) - volume_m3(geometry, 0)) / area_m2;
}

}  // namespace

TEST_CASE("engine: swept volume of printed examples -> as printed") {
    // B1.1 PRINTED sarthaks.com/2779596: six cylinders, bore 17 cm, stroke 30 cm: 40 856.41 cm³ in all.
    const Geometry six{.bore_m = 0.17, .stroke_m = 0.30, .rod_m = 0.5, .compression_ratio = 5.428879};
    check_printed(6 * displacement_m3(six) * 1e6, 40856.41, 0.005);
    // ... with 9225 cm³ of clearance in all: the ratio is 5.428879 (the page's 5.42 is cut off, not rounded).
    check_printed(6 * volume_m3(six, 0) * 1e6, 9225, 0.005);
    // B1.5 PRINTED wiseco.com/Calculators.aspx: bore and stroke 4 in, 6 cylinders: 301.5936 in³, worked with
    // pi/4 cut to .7854, hence the relative 5e-6.
    const Geometry inch{.bore_m = 4 * 0.0254, .stroke_m = 4 * 0.0254, .rod_m = 0.15, .compression_ratio = 9};
    check_printed(6 * displacement_m3(inch) / std::pow(0.0254, 3), 301.5936, 301.5936 * 5e-6);
    // B1.7 PRINTED enginesixuc.pages.dev: 84 x 90 mm: 2.993 L for six.
    const Geometry small{.bore_m = 0.084, .stroke_m = 0.090, .rod_m = 0.150, .compression_ratio = 10};
    check_printed(6 * displacement_m3(small) * 1e3, 2.993, 0.0005);
}

TEST_CASE("engine: bore, stroke and clearance of textbook cylinders -> their ratio") {
    // B1.2 EVALUATED (FOSSEE 443): 245 cm³ swept, 27.22 cm³ of clearance, bore 1.1 strokes: ratio 10.0007,
    // bore 7.0009 cm, stroke 6.3645 cm, to the digits given.
    const Geometry small{
        .bore_m = 0.070009, .stroke_m = 0.063645, .rod_m = 0.12, .compression_ratio = 10.0007};
    check_printed(displacement_m3(small) * 1e6, 245, 245 * 3e-5);  // three lengths, each to 1e-5
    check_printed(volume_m3(small, 0) * 1e6, 27.22, 27.22 * 4e-5);
    // B1.3 EVALUATED (FOSSEE 1226): 0.25 x 0.375 m, 0.00263 m³ of clearance: 7.99915.
    const Geometry large{.bore_m = 0.25, .stroke_m = 0.375, .rod_m = 0.7, .compression_ratio = 7.99915};
    check_printed(volume_m3(large, 0), 0.00263, 5e-9);
    // B2.11 EVALUATED (FOSSEE 2417): clearance 20 % of the displacement: ratio 6.
    const Geometry otto{.bore_m = 0.1, .stroke_m = 0.1, .rod_m = 0.2, .compression_ratio = 6};
    check_printed(volume_m3(otto, 0) / displacement_m3(otto), 0.2, 1e-12);
}

TEST_CASE("engine: clearance and swept volume -> the printed compression ratio") {
    // B1.6 PRINTED wiseco.com/Calculators.aspx: chamber 100.00 cc, displacement 823.70 cc: 9.237.
    // Bore chosen freely; the stroke then follows from the displacement.
    const double bore_m = 0.1;
    const Geometry geometry{.bore_m = bore_m,
                            .stroke_m = 823.70e-6 / (pi / 4 * bore_m * bore_m),
                            .rod_m = 0.2,
                            .compression_ratio = 9.237};
    check_printed(volume_m3(geometry, 0) * 1e6, 100.00, 0.005);
    check_printed(volume_m3(geometry, pi) / volume_m3(geometry, 0), 9.237, 1e-12);
}

TEST_CASE("engine: textbook square V6 at 20 degrees after TDC -> position, volume and speed ratio") {
    // B1.8, Pulkrabek, example 2-1: MEMORY (book), exact figures COMPUTED: 3.0 L, rc 9.5, rod 16.6 cm.
    const double bore_m = std::cbrt(0.003 / 6 * 4 / pi);
    const Geometry geometry{.bore_m = bore_m, .stroke_m = bore_m, .rod_m = 0.166, .compression_ratio = 9.5};
    check_printed(bore_m * 100, 8.602540, 5e-7);
    check_printed(volume_m3(geometry, 0) * 1e6, 58.823529, 5e-7);
    check_printed(piston_travel_m(geometry, 20) * 100, 0.3247135, 5e-8);
    check_printed(volume_m3(geometry, 20 * pi / 180) * 1e6, 77.696646, 5e-7);
    check_printed(volume_m3(geometry, 20 * pi / 180) / volume_m3(geometry, 0), 1.3208430, 5e-8);
    // Piston speed = dx/dangle x speed: 6.901703 m/s at 3600 rpm.
    const double area_m2 = pi / 4 * bore_m * bore_m;
    const double speed_rad_per_s = 3600 * 2 * pi / 60;
    check_printed(volume_slope_m3_per_rad(geometry, 20 * pi / 180) / area_m2 * speed_rad_per_s, 6.901703,
                  5e-7);
}

TEST_CASE("engine: 86 x 86 mm at 90 degrees -> the piston's travel") {
    // B1.9 COMPUTED: x(90) = 49.594010 mm.
    const Geometry geometry{.bore_m = 0.086, .stroke_m = 0.086, .rod_m = 0.1435, .compression_ratio = 10.5};
    check_printed(piston_travel_m(geometry, 90) * 1e3, 49.594010, 5e-7);
}

TEST_CASE("engine: an example printed wrongly on the web -> not reproduced") {
    // references.md B1, "known-wrong": bore 90, stroke 100, clearance 65 cm³ prints 159 051.6 mm³;
    // correct is 636.1725 cm³ and a ratio of 10.787.
    const Geometry geometry{.bore_m = 0.09, .stroke_m = 0.10, .rod_m = 0.2, .compression_ratio = 10.787};
    check_printed(displacement_m3(geometry) * 1e6, 636.1725, 5e-5);
    // Ratio printed to three decimals: clearance within 65 / 9.787 * 0.0005.
    check_printed(volume_m3(geometry, 0) * 1e6, 65, 0.0035);
}

TEST_CASE("engine: slope of the volume -> the volume's central difference at every angle") {
    // Closed form against itself: third-order error of the difference, step 1e-4 rad: h²/6 * V''' < 1e-11.
    const Geometry geometry;
    for (int angle_deg = -360; angle_deg <= 360; angle_deg += 7) {
        CAPTURE(angle_deg);
        const double angle = angle_deg * pi / 180;
        const double step = 1e-4;
        const double difference =
            (volume_m3(geometry, angle + step) - volume_m3(geometry, angle - step)) / (2 * step);
        CHECK(std::abs(volume_slope_m3_per_rad(geometry, angle) - difference) < 1e-11);
    }
}
