#include "judgement_text.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace evenstroke::render {

std::string verdict_word(std::string_view outcome) {
    if (outcome == "inconclusive") return "NO VERDICT";
    std::string word(outcome);
    std::transform(word.begin(), word.end(), word.begin(),
                   [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; });
    return word;
}

std::string_view verdict_said(const Judgement& judgement) {
    return judgement.no_verdict ? *judgement.no_verdict : judgement.headline;
}

void test_lines(Page& page, const Judgement& judgement) {
    if (!judgement.next_tests.empty()) page.section("Test next");
    int number = 0;
    for (const NextTest& test : judgement.next_tests)
        page.paragraph(test.text, fmt::format("{}. ", ++number));
}

void caution_lines(Page& page, const std::string& title, const Judgement& judgement) {
    if (!judgement.cautions.empty()) page.section(title);
    for (const std::string& caution : judgement.cautions) page.paragraph(caution, "! ");
}

}  // namespace evenstroke::render
