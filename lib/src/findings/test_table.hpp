// Every test that the program suggests: its words, and what can hurt someone in it.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "evenstroke/findings.hpp"

namespace evenstroke::findings {

struct TestRow {
    /// The code; where circumstances ask for other words, the code and after a '/' which.
    const char* key;
    std::string says;                   ///< a sentence; {who} and {with} stand for what it is about
    std::vector<const char*> cautions;  ///< codes of what can hurt someone; alike in all rows of one code
};

/// The one table.
[[nodiscard]] std::span<const TestRow> test_table();
/// `key` must be one of the table's.
[[nodiscard]] const TestRow& test_row(std::string_view key);

/// What a suggested test is about.
struct TestSubject {
    std::string who = "that cylinder";
    std::string with = "the gauge";  ///< what is read again after a wet test
};

/// The row's code, and its sentence about `subject`. `key` must be one of the table's.
[[nodiscard]] NextTest suggested(std::string_view key, const TestSubject& subject = {});

/// What can hurt someone in these tests, each caution once, beside `dangers` (codes of cautions).
[[nodiscard]] std::vector<std::string> cautions_of(std::span<const NextTest> tests,
                                                   std::vector<std::string> dangers = {});
/// The dangers of cranking a warm engine again, whatever the tests are.
[[nodiscard]] std::vector<std::string> cranking_dangers();

}  // namespace evenstroke::findings
