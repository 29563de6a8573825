// A program of somebody else's that uses the installed library: every public header, every stage linked.
#include <cstdio>
#include <evenstroke/analyse.hpp>
#include <evenstroke/read.hpp>
#include <evenstroke/render.hpp>
#include <evenstroke/synth.hpp>
#include <evenstroke/units.hpp>
#include <evenstroke/version.hpp>

int main() {
    using namespace evenstroke;
    const auto layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    std::printf("evenstroke %s, %d cylinders\n", version(), layout.cylinders());
    try {
        const auto recording = read("no such file");
        AnalyseOptions options;
        options.layout = layout;
        std::fputs(summary_text(recording, analyse(recording, options)).c_str(), stdout);
    } catch (const Error& error) {
        std::printf("refused: %s\n", error.place().c_str());
        return 0;
    }
    return 1;
}
