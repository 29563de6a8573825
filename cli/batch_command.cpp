// evenstroke batch: many recordings, one row each, in the order of the list.
#include <fmt/core.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <condition_variable>
#include <cstdio>
#include <memory>
#include <mutex>
#include <optional>
#include <thread>

#include "commands.hpp"
#include "crank_options.hpp"
#include "evenstroke/render.hpp"
#include "manifest.hpp"
#include "option_values.hpp"
#include "output.hpp"
#include "report.hpp"

namespace evenstroke::cli {

namespace {

/// More threads than any machine of today has; guards against a slip of the keyboard.
constexpr std::uint64_t most_jobs = 1024;

struct BatchRequest {
    std::string list;
    std::string csv;  ///< empty: standard output, unless the NDJSON goes there
    std::string ndjson;
    std::uint64_t jobs = 0;  ///< 0: as many as the machine has threads
    CrankRequest shared;
};

struct Row {
    std::string csv;
    std::string ndjson;
    std::optional<Outcome> outcome;  ///< empty: the recording could not be analysed
};

/// How many recordings came out how.
struct Tally {
    std::size_t even = 0, weak = 0, undecided = 0, failed = 0;
    void count(const Row& row) {
        if (!row.outcome) return void(++failed);
        ++(*row.outcome == Outcome::even ? even : *row.outcome == Outcome::weak ? weak : undecided);
    }
};

/// The shared options with the row's own over them. Throws Error{bad_option} naming the column.
CrankRequest request_for(const ManifestEntry& entry, const CrankRequest& shared) {
    CrankRequest request = shared;
    for (const auto& cell : entry.cells) {
        try {
            cell.option->set(request, cell.text);
        } catch (const BadUsage& error) {
            throw Error(ErrorCode::bad_option, cell.option->name, error.what(),
                        "correct the manifest's cell");
        }
    }
    return request;
}

AnalyseOptions options_for(const CrankRequest& request) {
    try {
        return analyse_options(request);
    } catch (const BadUsage& error) {
        throw Error(ErrorCode::bad_option, "", error.what(), "");
    }
}

/// How many columns the positions need: known before any recording is read.
int most_cylinders_of(const std::vector<ManifestEntry>& entries, const CrankRequest& shared) {
    int most = 0;
    for (const auto& entry : entries) {
        try {
            most = std::max(most, options_for(request_for(entry, shared)).layout.cylinders());
        } catch (const Error&) {
            continue;  // that row will say so itself
        }
    }
    return most;
}

Row refusal(const std::string& path, const Error& error, int most) {
    return {batch_csv_refusal(path, error, most), refusal_json_line(path, error), {}};
}

Row do_one(const ManifestEntry& entry, const CrankRequest& shared, int most) {
    try {
        const CrankRequest request = request_for(entry, shared);
        const AnalyseOptions options = options_for(request);
        const Recording recording = read(entry.path, request.read);
        const Analysis analysis = analyse(recording, options);
        return {batch_csv_row(recording, analysis, most), crank_json_line(recording, analysis),
                analysis.findings.outcome};
    } catch (const Error& error) {
        return refusal(entry.path, error, most);
    } catch (const std::exception& error) {
        return refusal(entry.path,
                       Error(ErrorCode::unusable, "", error.what(),
                             "this should not happen: please report it with the recording"),
                       most);
    }
}

/// Rows as they are made by the workers, handed out in input order.
class Rows {
  public:
    explicit Rows(std::size_t count) : rows_(count) {}
    void put(std::size_t index, Row row) {
        const std::lock_guard lock(mutex_);
        rows_[index] = std::move(row);
        ready_.notify_all();
    }
    [[nodiscard]] Row take(std::size_t index) {
        std::unique_lock lock(mutex_);
        ready_.wait(lock, [&] { return rows_[index].has_value(); });
        Row row = std::move(*rows_[index]);
        rows_[index].reset();
        return row;
    }

  private:
    std::vector<std::optional<Row>> rows_;
    std::mutex mutex_;
    std::condition_variable ready_;
};

/// Ends the workers on every way out: no new recording is begun, those begun are finished.
class Workers {
  public:
    template <class Work>
    Workers(std::size_t count, std::size_t tasks, Work work) {
        for (std::size_t i = 0; i < count; ++i)
            threads_.emplace_back([this, tasks, work] {
                for (std::size_t task = next_++; task < tasks && !stop_; task = next_++) work(task);
            });
    }
    Workers(const Workers&) = delete;
    Workers& operator=(const Workers&) = delete;
    ~Workers() {
        stop_ = true;
        for (auto& thread : threads_) thread.join();
    }

  private:
    std::atomic<std::size_t> next_{0};
    std::atomic<bool> stop_{false};
    std::vector<std::thread> threads_;
};

/// The two outputs, opened before any work.
class Tables {
  public:
    Tables(const BatchRequest& request, const std::vector<Input>& inputs) {
        const std::string csv = request.csv.empty() && request.ndjson != "-" ? "-" : request.csv;
        std::vector<std::string> paths;
        for (const auto& path : {csv, request.ndjson})
            if (!path.empty()) paths.push_back(path);
        check_distinct(inputs, paths);
        if (!csv.empty()) csv_.emplace(csv);
        if (!request.ndjson.empty()) ndjson_.emplace(request.ndjson);
    }
    void write(const std::string& csv, const std::string& ndjson) {
        if (csv_) csv_->write(csv);
        if (ndjson_) ndjson_->write(ndjson);
    }
    /// Rows that stand on the screen tell themselves how far it is.
    [[nodiscard]] bool shown() const {
        const bool to_stdout = (csv_ && csv_->is_stdout()) || (ndjson_ && ndjson_->is_stdout());
        return to_stdout && isatty(STDOUT_FILENO) != 0;
    }
    void commit() {
        if (csv_) csv_->commit();
        if (ndjson_) ndjson_->commit();
    }

  private:
    std::optional<Output> csv_;
    std::optional<Output> ndjson_;
};

/// On a terminal how far it is, unless the rows stand there, and at the end what came out; elsewhere only
/// that some failed.
void progress(std::size_t all, const Tally& tally, bool rows_shown) {
    const std::size_t done = tally.even + tally.weak + tally.undecided + tally.failed;
    if (isatty(STDERR_FILENO) == 0) {
        if (done == all && tally.failed > 0)
            fmt::print(stderr, "evenstroke: {} of {} recordings not analysed (their rows say why)\n",
                       tally.failed, all);
        return;
    }
    if (rows_shown && done < all) return;
    fmt::print(stderr, "{}{} of {}", rows_shown ? "" : "\r", done, all);
    if (done == all)
        fmt::print(
            stderr, ": {} even, {} weak, {} without a verdict{}\n", tally.even, tally.weak, tally.undecided,
            tally.failed == 0 ? "" : fmt::format(";\n{} not analysed (their rows say why)", tally.failed));
    std::fflush(stderr);
}

int batch(const BatchRequest& request) {
    const auto entries = list_recordings(request.list);
    std::vector<Input> inputs = {{.path = request.list, .kind = "list"}};
    for (const auto& entry : entries) inputs.push_back({.path = entry.path});
    Tables tables(request, inputs);

    const int most = most_cylinders_of(entries, request.shared);
    tables.write(batch_csv_header(most), {});
    Rows rows(entries.size());
    const std::size_t jobs =
        request.jobs > 0 ? request.jobs : std::max(1U, std::thread::hardware_concurrency());
    const Workers workers(std::min(jobs, entries.size()), entries.size(),
                          [&](std::size_t i) { rows.put(i, do_one(entries[i], request.shared, most)); });
    Tally tally;
    for (std::size_t i = 0; i < entries.size(); ++i) {
        const Row row = rows.take(i);
        tally.count(row);
        tables.write(row.csv, row.ndjson);
        progress(entries.size(), tally, tables.shown());
    }
    tables.commit();
    return tally.failed > 0 ? exit_failed : exit_analysed;
}

}  // namespace

Command batch_command() {
    auto request = std::make_shared<BatchRequest>();
    Command command{
        .name = "batch",
        .summary = "Many recordings, one row each",
        .arguments = {{"LIST",
                       "A manifest (CSV: a column path and any options below, without dashes; - is standard "
                       "input), or a folder",
                       &request->list}},
        .options = {{"--jobs", "N", "", "Recordings at a time. Default: the machine's threads.",
                     WholeNumber{&request->jobs, 1, most_jobs}}},
        .footer =
            "Options given here hold for every recording whose row does not set its own.\n"
            "Relative paths in a manifest start at its folder.\n"
            "\n"
            "Examples:\n"
            "  evenstroke batch list.csv --csv rows.csv --ndjson rows.ndjson\n"
            "  evenstroke batch captures --order 1-3-4-2 --sync 3 --jobs 2\n"
            "\n"
            "Exit codes: 0 every recording was analysed, with or without a verdict; 1 at\n"
            "least one could not be (its row holds the error; the others are done); 2 usage.",
        .work = [=] { return batch(*request); },
    };
    command.add(crank_flags(request->shared));
    command.add({
        {"--csv", "FILE", output_group, "CSV: one row per recording. Default: standard output.",
         &request->csv},
        {"--ndjson", "FILE", output_group, "One JSON document per line, as crank --json writes it.",
         &request->ndjson},
    });
    return command;
}

}  // namespace evenstroke::cli
