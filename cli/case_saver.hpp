// --save CASE: results added to one file, whole or not at all.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "output.hpp"

namespace evenstroke::cli {

/// Nothing when `path` is empty. Otherwise looks at the case before any work: throws Error when it is no
/// case, or cannot be written.
class CaseSaver {
  public:
    explicit CaseSaver(const std::string& path);
    CaseSaver(const CaseSaver&) = delete;
    CaseSaver& operator=(const CaseSaver&) = delete;
    ~CaseSaver();

    /// Adds the documents (JSON texts) as they stand now; nothing is changed before `commit`. Another run
    /// that saves to the same folder waits from here on until this one ends.
    void add(std::span<const std::string> documents);
    void commit();

  private:
    std::string path_;
    std::optional<Output> output_;
    int folder_ = -1;  ///< locked between add and the end
};

}  // namespace evenstroke::cli
