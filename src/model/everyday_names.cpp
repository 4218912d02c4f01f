#include "model/everyday_names.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace whorl::model {
namespace {

struct Everyday {
  std::string_view name;  ///< letters and digits, in lower case
  std::string_view id;
};

constexpr std::array kSolvents{Everyday{"dcm", "dichloromethane"},
                               Everyday{"ch2cl2", "dichloromethane"},
                               Everyday{"chcl3", "chloroform"},
                               Everyday{"thf", "tetrahydrofuran"},
                               Everyday{"dmf", "dimethylformamide"},
                               Everyday{"etoh", "ethanol"},
                               Everyday{"ethylalcohol", "ethanol"},
                               Everyday{"h2o", "water"},
                               Everyday{"etoac", "ethyl-acetate"},
                               Everyday{"acoh", "acetic-acid"},
                               Everyday{"hcooh", "formic-acid"},
                               Everyday{"meoh", "methanol"},
                               Everyday{"ch3oh", "methanol"},
                               Everyday{"dmac", "dimethylacetamide"},
                               Everyday{"dma", "dimethylacetamide"},
                               Everyday{"dmso", "dimethyl-sulfoxide"},
                               Everyday{"dimethylsulphoxide", "dimethyl-sulfoxide"},
                               Everyday{"mek", "2-butanone"},
                               Everyday{"butanone", "2-butanone"},
                               Everyday{"butan2one", "2-butanone"},
                               Everyday{"ethylmethylketone", "2-butanone"},
                               Everyday{"ipa", "2-propanol"},
                               Everyday{"iproh", "2-propanol"},
                               Everyday{"isopropanol", "2-propanol"},
                               Everyday{"propan2ol", "2-propanol"}};
constexpr std::array kPolymers{Everyday{"peg", "PEO"},
                               Everyday{"polyethyleneglycol", "PEO"},
                               Everyday{"plla", "PLA"},
                               Everyday{"polylacticacid", "PLA"},
                               Everyday{"polycaprolactone", "PCL"},
                               Everyday{"polyvinylpyrrolidone", "PVP"},
                               Everyday{"povidone", "PVP"},
                               Everyday{"pvoh", "PVA"},
                               Everyday{"pval", "PVA"},
                               Everyday{"nylon6", "PA6"},
                               Everyday{"polycaprolactam", "PA6"},
                               Everyday{"cellulosediacetate", "CA"},
                               Everyday{"polycarbonate", "PC"}};

std::string bare(std::string_view name) {
  std::string out;
  for (const char c : name)
    if (const auto u = static_cast<unsigned char>(c); std::isalnum(u) != 0) out += static_cast<char>(std::tolower(u));
  return out;
}

// "chloroform (trichloromethane)" and "polystyrene, atactic" are asked for by either name and without the rest.
bool called(const std::string& full_name, const std::string& wanted) {
  const std::string first = full_name.substr(0, std::min(full_name.find(" ("), full_name.find(", ")));
  if (bare(full_name) == wanted || bare(first) == wanted) return true;
  const std::size_t open = full_name.find(" (");
  if (open == std::string::npos) return false;
  return bare(full_name.substr(open + 2, full_name.find(')', open) - open - 2)) == wanted;
}

template <class Records, class Names>
std::string meant(const Records& records, const Names& names, std::string_view name) {
  const std::string wanted = bare(name);
  if (wanted.empty()) return {};
  for (const auto& record : records)
    if (record.id == name) return {};
  for (const auto& record : records)
    if (bare(record.id) == wanted || called(record.name, wanted)) return record.id;
  for (const Everyday& one : names)
    if (one.name == wanted)
      for (const auto& record : records)
        if (record.id == one.id) return record.id;
  return {};
}

}  // namespace

std::string polymer_meant(const Library& library, std::string_view name) {
  return meant(library.polymers, kPolymers, name);
}
std::string solvent_meant(const Library& library, std::string_view name) {
  return meant(library.solvents, kSolvents, name);
}

}  // namespace whorl::model
