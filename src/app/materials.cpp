// `whorl materials`: the property library.
#include <ostream>

#include "answer/answer.hpp"
#include "answer/materials_answer.hpp"
#include "app/commands.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/io/materials_record.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::app {

int run_materials(const MaterialsOptions& options, const console::Streams& streams) {
  const std::vector<std::string>& names = options.names;
  const document::Format format = answer::answer_format(options.json, options.form);
  if (names.size() > 2)
    throw InputError("", "", std::to_string(names.size()) + " names given",
                     "none, one material, or a polymer and a solvent");
  model::Library library = io::built_in_library();
  for (const std::string& path : options.add) io::add_materials_file(library, path);
  std::vector<answer::Basis> bases{answer::built_in_basis()};
  for (const std::string& path : options.add) bases.push_back(answer::basis_of_file("materials", path));
  const auto answer = [&](const document::Document& document) {
    answer::write_answer(document, format, options.form.fragment, bases, streams.out);
  };
  if (options.record) {
    // a materials file has one form
    if (const std::string asked = options.json                     ? "--json"
                                  : !options.form.format.empty() ? "--format " + options.form.format
                                                                 : std::string();
        !asked.empty())
      throw InputError("", "--record", "together with " + asked,
                       "--record alone (it always prints a materials file in JSON), or " + asked + " without it");
    if (names.empty())
      throw InputError("", "--record", "no name is given", "a polymer, a solvent, or a polymer and a solvent");
    for (const std::string& name : names)
      if (library.polymer(name) == nullptr && library.solvent(name) == nullptr) answer::unknown_name(library, name);
    streams.out << printable(io::record_file(names, options.add));  // files of users, too
    return console::kDone;
  }
  if (names.size() < 2) {
    answer(names.empty() ? answer::list_all(library) : answer::show_one(library, names[0]));
    return console::kDone;
  }
  const bool swapped = library.polymer(names[0]) == nullptr && library.polymer(names[1]) != nullptr;
  const std::string& polymer = swapped ? names[1] : names[0];
  const std::string& solvent = swapped ? names[0] : names[1];
  if (library.polymer(polymer) == nullptr) answer::unknown_name(library, polymer);
  if (library.solvent(solvent) == nullptr) answer::unknown_name(library, solvent);
  const model::Pair* pair = library.pair(polymer, solvent);
  answer(pair != nullptr ? answer::pair_document(*pair) : answer::unknown_pair(polymer, solvent));
  return pair != nullptr ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
