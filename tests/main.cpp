#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <cstdio>

namespace {

unsigned cases_run = 0;

/// Counts, since doctest itself is content when a filter matches nothing.
struct Counter : doctest::IReporter {
    explicit Counter(const doctest::ContextOptions&) {}
    void test_case_start(const doctest::TestCaseData&) override { ++cases_run; }
    void report_query(const doctest::QueryData&) override {}
    void test_run_start() override {}
    void test_run_end(const doctest::TestRunStats&) override {}
    void test_case_reenter(const doctest::TestCaseData&) override {}
    void test_case_end(const doctest::CurrentTestCaseStats&) override {}
    void test_case_exception(const doctest::TestCaseException&) override {}
    void subcase_start(const doctest::SubcaseSignature&) override {}
    void subcase_end() override {}
    void log_assert(const doctest::AssertData&) override {}
    void log_message(const doctest::MessageData&) override {}
    void test_case_skipped(const doctest::TestCaseData&) override {}
};

REGISTER_LISTENER("counter", 1, Counter);

}  // namespace

int main(int argc, char** argv) {
    doctest::Context context(argc, argv);
    const int result = context.run();
    if (context.shouldExit()) return result;
    if (cases_run == 0) {
        std::fprintf(stderr, "no test case matches: nothing was checked\n");
        return 1;
    }
    return result;
}
