// Metadata beside a CSV file in the form of the W3C Recommendation "Metadata Vocabulary for Tabular Data" (CSV on the
// Web).
#pragma once
#include <string>
#include <utility>
#include <vector>

namespace whorl::io {

struct TableColumn {
  std::string name;
  std::string datatype;          ///< "double", "integer", "boolean", "string"
  std::string unit;              ///< as in the column name, UDUNITS spelling; empty for text
  std::string symbol;
  std::string description;
  bool required{};               ///< never empty
  std::vector<std::string> values{};  ///< the only texts allowed; empty: any
};

struct TableMetadata {
  std::string url;               ///< file name of the table, without a folder
  std::string title;
  std::string description;
  std::string identity;          ///< digest that tells whether a file may be continued
  std::string case_name;
  std::string case_sha256;
  std::string program;
  std::string program_version;
  std::vector<std::pair<std::string, std::string>> facts;  ///< further name and value pairs, in order
  std::vector<TableColumn> columns;
};

/// The metadata document, indented, ending in a line feed. The same input gives the same bytes.
/// Source: W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015.
[[nodiscard]] std::string csvw_text(const TableMetadata& table);

/// Name of the metadata file of a table: "FILE-metadata.json".
/// Source: "Model for Tabular Data and Metadata on the Web", 17 December 2015, section 5.2 (default locations).
[[nodiscard]] std::string csvw_file(const std::string& table_file);

/// The document of a share turned into that of the whole table: another file name, and another value for one fact.
/// Error: InputError when the text is not such a document; `file` names it in the message.
[[nodiscard]] std::string csvw_of_whole(const std::string& share, const std::string& file, const std::string& url,
                                        const std::pair<std::string, std::string>& fact);

/// What a later run needs from a metadata document to decide whether it may continue or join a table.
struct TableIdentity {
  std::string identity;
  std::string program_version;
  std::string case_name;
  std::string case_sha256;
  std::vector<std::pair<std::string, std::string>> facts;
};

/// Error: InputError when the text is not such a document; `file` names it in the message.
[[nodiscard]] TableIdentity read_csvw_identity(const std::string& text, const std::string& file);

/// The columns of a table, for another form of it; `values` stay empty.
/// Error: InputError when the text is not such a document; `file` names it in the message.
[[nodiscard]] std::vector<TableColumn> read_csvw_columns(const std::string& text, const std::string& file);

}  // namespace whorl::io
