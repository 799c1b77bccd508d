#include "rimstance/model/schema.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "model/scenario_text.hpp"
#include "rimstance/base/files.hpp"
#include "rimstance/model/fields.hpp"
#include "rimstance/model/starter.hpp"

using namespace rimstance;
using nlohmann::json;
namespace fs = std::filesystem;

namespace {

/// Follows a dotted key path through the schema, `*` for the items of a list.
json at(const json& schema, const std::string& path) {
  const auto resolve = [&](json node) {
    while (node.contains("$ref"))
      node = schema.at(json::json_pointer(node.at("$ref").get<std::string>().substr(1)));
    return node;
  };
  json node = resolve(schema);
  std::string rest = path;
  while (!rest.empty()) {
    const std::string key = rest.substr(0, rest.find('.'));
    rest = rest.size() > key.size() ? rest.substr(key.size() + 1) : "";
    node = resolve(key == "*" ? node.at("items") : node.at("properties").at(key));
  }
  return node;
}

bool python_validates() {
  return std::system("/usr/bin/python3 -c 'import jsonschema, yaml' >/dev/null 2>&1") == 0;
}

/// What a validator from outside says of YAML texts against schema.json in `folder`: one letter each,
/// y or n; "?" where the schema itself is no valid schema. One start of the interpreter for all.
std::string validated(const fs::path& folder, const std::vector<std::string>& texts) {
  std::string files;
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const std::string file = (folder / ("instance" + std::to_string(i) + ".yaml")).string();
    write_whole(file, texts[i]);
    files += " " + file;
  }
  write_whole((folder / "validate.py").string(), R"(import json, sys, yaml, jsonschema
schema = json.load(open(sys.argv[1]))
try:
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    said = ''.join('y' if validator.is_valid(yaml.load(open(f), yaml.CSafeLoader)) else 'n' for f in sys.argv[3:])
except jsonschema.SchemaError:
    said = '?'
open(sys.argv[2], 'w').write(said)
)");
  const std::string said = (folder / "said.txt").string();
  const std::string command = "/usr/bin/python3 " + (folder / "validate.py").string() + " " +
                              (folder / "schema.json").string() + " " + said + files + " >/dev/null 2>&1";
  if (std::system(command.c_str()) != 0) return "the validator failed";
  return std::string(FileBytes(said).text());
}

}  // namespace

TEST_CASE("schema: every number that can be read and set is one of its keys") {
  const json schema = json::parse(json_schema());
  const Scenario s = *texts::load(texts::dunlin()).scenario;
  int checked = 0;
  for (const char* path :
       {"gravity", "spot.yaw", "machine.outriggers.*.splay", "machine.boom.sections.*.length",
        "machine.hoist.head.mass", "operation.transit.luff", "criteria.load_cases.*.margin.moment",
        "machine.container.unit.radius", "soil.k_phi", "criteria.levelled_in.luff"}) {
    CAPTURE(path);
    CHECK(at(schema, path).is_object());
    ++checked;
  }
  CHECK(checked == 10);
  CHECK_THROWS(at(schema, "machine.outriggers.*.splai"));
}

TEST_CASE("schema: keys not in the table are refused everywhere") {
  const json schema = json::parse(json_schema());
  for (const char* path :
       {"", "machine", "machine.boom", "machine.outriggers.*", "criteria", "operation.transit"}) {
    CAPTURE(path);
    CHECK(at(schema, path).at("additionalProperties") == false);
  }
}

TEST_CASE("schema: a validator from outside finds it valid and agrees with the loader on files") {
  if (!python_validates()) {
    WARN("skipped: /usr/bin/python3 has no jsonschema and yaml");
    return;
  }
  const fs::path folder = fs::temp_directory_path() / "rimstance_schema_test";
  fs::remove_all(folder);
  make_directory(folder.string());
  write_whole((folder / "schema.json").string(), json_schema());
  using texts::dunlin_with;
  CHECK(validated(folder, {texts::dunlin(), dunlin_with("slew: \"[-30, 30] deg\"", "slew: all"),
                           dunlin_with("line_pull: 100 N", "line_pull: { mass: 60 kg, at_gravity: moon }"),
                           dunlin_with("gravity: moon", "gravity: { value: 1.63 m/s^2, from: orbiter }")}) ==
        "yyyy");
  CHECK(
      validated(folder,
                {dunlin_with("gravity: moon", "gravity: noom"), dunlin_with("gravity: moon", "gravity: 1.62"),
                 dunlin_with("mass: 210 kg", "mass: 210 N"), dunlin_with("units: 6", "units: six"),
                 dunlin_with("spot: {", "spoot: {"), dunlin_with("spot: { at: \"[0, 0] m\",", "spot: {"),
                 dunlin_with("set_error: 0 deg", "set_eror: 0 deg")}) == "nnnnnnn");
  fs::remove_all(folder);
}

TEST_CASE("starter: loads without errors, assumptions or cautions, and stands near a void") {
  const fs::path folder = fs::temp_directory_path() / "rimstance_starter_test";
  fs::remove_all(folder);
  const std::vector<std::string> files = write_starter(folder.string());
  REQUIRE(files.size() == 5);
  const Document document = load_scenario(files[0]);
  CHECK(document.assumed.empty());
  CHECK(document.cautions.empty());
  CHECK(document.files.size() == 2);
  CHECK(fs::exists(document.scenario->terrain.file));
  for (const char* const file : {"scenario.yaml", "dunlin.yaml"}) {
    const FileBytes bytes((folder / file).string());
    const std::string line(bytes.text().substr(0, bytes.text().find('\n')));
    const std::string key = "$schema=";
    CHECK(fs::exists(folder / line.substr(line.find(key) + key.size())));
  }
  CHECK(starter_terrain().find(" -9999") != std::string::npos);
  CHECK_THROWS_AS(write_starter(folder.string()), InputError);  // never over what is there
  fs::remove_all(folder);
}

TEST_CASE("starter: its files are valid by its schemas") {
  if (!python_validates()) {
    WARN("skipped: /usr/bin/python3 has no jsonschema and yaml");
    return;
  }
  const fs::path folder = fs::temp_directory_path() / "rimstance_starter_schema_test";
  fs::remove_all(folder);
  (void)write_starter(folder.string());
  const auto text = [&](const char* file) { return std::string(FileBytes((folder / file).string()).text()); };
  fs::copy_file(folder / "rimstance.schema.json", folder / "schema.json");
  CHECK(validated(folder, {text("scenario.yaml")}) == "y");
  // The machine's schema refers into the other file; put in its place, it must do the same.
  const std::string target = json::parse(text("machine.schema.json")).at("$ref").get<std::string>();
  const std::string file = target.substr(0, target.find('#'));
  REQUIRE(fs::exists(folder / file));
  json machine = json::parse(text(file.c_str()));
  machine["$ref"] = target.substr(target.find('#'));
  write_whole((folder / "schema.json").string(), machine.dump());
  CHECK(validated(folder, {text("dunlin.yaml"), text("scenario.yaml")}) == "yn");
  fs::remove_all(folder);
}
