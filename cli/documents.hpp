// The documents that a command writes of one result.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "evenstroke/recording.hpp"
#include "output.hpp"

namespace evenstroke::cli {

template <typename Result>
struct Document {
    std::string path;  ///< empty: not asked for
    std::string (*text)(const Recording&, const Result&);
};

/// Opens all that were asked for before any work, and keeps none before all are written; a kept file is
/// whole.
template <typename Result>
class Documents {
  public:
    /// `others` are paths that the command itself writes. Throws Error{cannot_write}, or BadUsage when two
    /// are one place.
    Documents(const std::string& recording, const std::vector<Document<Result>>& all,
              std::vector<std::string> others = {}) {
        for (const auto& document : all)
            if (!document.path.empty()) others.push_back(document.path);
        check_distinct({{.path = recording}}, others);
        for (const auto& document : all)
            if (!document.path.empty()) opened_.emplace_back(Output(document.path), document.text);
    }

    /// Writes each; `summary` goes to standard output unless a document does.
    void write(const Recording& recording, const Result& result,
               const std::function<std::string()>& summary) {
        bool stdout_taken = false;
        for (auto& [output, text] : opened_) {
            stdout_taken = stdout_taken || output.is_stdout();
            output.write(text(recording, result));
        }
        if (!stdout_taken) write_stdout(summary());
    }

    void commit() {
        for (auto& [output, text] : opened_) output.commit();
    }

  private:
    std::vector<std::pair<Output, std::string (*)(const Recording&, const Result&)>> opened_;
};

}  // namespace evenstroke::cli
