#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/sharing_output.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "db/key_files.h"
#include "db/library.h"

namespace lampload {
namespace {

struct KeysOptions {
  std::string key;
  std::string name;
  std::string reason;
  LibraryOption library;
  OutputOptions output;
};

std::vector<SignerKey> decided(const KeysOptions& options) {
  if (options.library.holds_nothing_yet()) return {};
  return options.library.open_existing(Library::Access::read_only).signer_keys();
}

void answer(const KeysOptions& options, const SignerKey& key, const std::string& done) {
  if (options.output.json) {
    fmt::print("{}", signer_key_json(key));
    return;
  }
  Screen(stdout).line(fmt::format("{} {}: {}", done, key.name, key.public_key));
}

int make(const KeysOptions& options) {
  const KeyFile made = make_key_file(options.name);
  const SignerKey key{made.public_key, made.name, true, "", ""};
  try {
    Library::open(options.library.path(), Library::Access::read_write).store_signer_key(key);
  } catch (const Error&) {
    take_back_key_file(made.name);  // nobody has seen it yet
    throw;
  }
  answer(options, key, "made and accepted");
  if (!options.output.json && !options.output.quiet) {
    Screen(stderr).paragraph(
        "note: the digits above are the public key: give them, not the file in " + key_folder() +
        ", to those who shall know your lamps. Keep a copy of that file where only you can read it.");
  }
  return 0;
}

int list(const KeysOptions& options) {
  const std::vector<SignerKey> keys = decided(options);
  const std::vector<KeyFile> own = key_files();
  if (options.output.json) {
    fmt::print("{}", signer_keys_json(keys, own));
    return 0;
  }
  Screen screen(stdout);
  if (keys.empty() && own.empty()) {
    screen.line("No keys yet; 'lampload keys make' makes one, 'lampload keys accept' takes one of somebody else's.");
    return 0;
  }
  const auto signs = [&](const SignerKey& key) {
    return std::any_of(own.begin(), own.end(), [&](const KeyFile& one) { return one.public_key == key.public_key; });
  };
  Table table({"name", "public key", "state", "since", "why"});
  for (const SignerKey& key : keys) {
    const std::string state = key.accepted ? signs(key) ? "yours, accepted" : "accepted" : "revoked";
    table.add({key.name, key.public_key, state, key.time_utc, key.reason});
  }
  for (const KeyFile& one : own) {
    const bool known =
        std::any_of(keys.begin(), keys.end(), [&](const SignerKey& key) { return one.public_key == key.public_key; });
    if (!known) table.add({one.name, one.public_key, "yours, not in this library", "", ""});
  }
  screen.table(table);
  return 0;
}

int accept(const KeysOptions& options) {
  const SignerKey key{options.key, options.name, true, "", ""};
  for (const SignerKey& earlier : decided(options)) {
    if (earlier.public_key != key.public_key || earlier.accepted || options.output.quiet) continue;
    Screen(stderr).paragraph(
        fmt::format(
            "note: this key was revoked here on {}, as '{}'{}{}. From now on it is accepted, and what is signed "
            "with it is no longer warned of; 'lampload keys revoke' takes that back",
            earlier.time_utc, earlier.name, earlier.reason.empty() ? "" : ", because: ", earlier.reason),
        0, Style::warning);
  }
  Library::open(options.library.path(), Library::Access::read_write).store_signer_key(key);
  answer(options, key, "accepted");
  return 0;
}

/// One that is known by name or digits, or a new one by its digits.
SignerKey found(const KeysOptions& options) {
  for (const SignerKey& key : decided(options)) {
    if (key.name == options.key || key.public_key == options.key) return key;
  }
  if (!is_hex(options.key, public_key_digits)) {
    throw Error(ErrorCode::not_found, "no key of this name was accepted or revoked: '" + options.key + "'", {},
                "'lampload keys list' shows them; a key that is not there is named by its 64 digits");
  }
  return {options.key, in_short(options.key), true, "", ""};
}

int revoke(const KeysOptions& options) {
  SignerKey key = found(options);
  key.accepted = false;
  key.reason = options.reason;
  Library::open(options.library.path(), Library::Access::read_write).store_signer_key(key);
  answer(options, key, "revoked");
  return 0;
}

Command add_action(Command& keys, const std::string& name, const std::string& meaning,
                   const std::shared_ptr<KeysOptions>& options, int (*action)(const KeysOptions&)) {
  Command command = keys.command(name, meaning);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.runs([options, action] { return action(*options); });
  return command;
}

std::string fault_of_public_key(const std::string& text) {
  return is_hex(text, public_key_digits) ? ""
                                         : "'" + text + "' is not a public key of 64 lower-case hexadecimal digits";
}

}  // namespace

void add_keys(Command& program) {
  auto options = std::make_shared<KeysOptions>();
  Command keys = program.command("keys", "Keys that sign lamp model files, and whose signatures you accept");
  keys.footer(
      "Examples:\n"
      "  lampload keys make boathouse\n"
      "  lampload keys list\n"
      "  lampload keys accept 3d40...660c --name 'the other boathouse'\n"
      "  lampload keys revoke 'the other boathouse' --reason 'the laptop was stolen'\n\n"
      "Compare a key's digits with its holder by another way than the one the file came by.\n"
      "What a signature says and what not: docs/sharing.md.");

  Command making = add_action(keys, "make", "Make a key to sign with, and accept it here", options, &make);
  making.option("name", options->name, "What to call it: letters, digits, '-', '_'")
      .required()
      .check(&fault_of_key_name)
      .shown_as("NAME");
  making.footer("Examples:\n  lampload keys make boathouse");

  add_action(keys, "list", "List your keys, and those accepted and revoked", options, &list)
      .footer("Examples:\n  lampload keys list\n  lampload keys list --json");

  Command accepting = add_action(keys, "accept", "Accept what is signed with somebody's key", options, &accept);
  accepting.option("key", options->key, "Public key, 64 digits").required().check(&fault_of_public_key).shown_as("KEY");
  accepting.option("--name", options->name, "Whose key it is")
      .required()
      .check([](const std::string& text) { return refusal_of_name(text, "key"); })
      .shown_as("NAME");
  accepting.footer("Examples:\n  lampload keys accept 3d40...660c --name 'the other boathouse'");

  Command revoking = add_action(keys, "revoke", "Warn of everything signed with a key from now on", options, &revoke);
  revoking.option("key", options->key, "Its name, or its 64 digits").required().shown_as("KEY");
  revoking.option("--reason", options->reason, "Why; told with every warning")
      .check([](const std::string& text) { return text.empty() ? "" : refusal_of_name(text, "reason"); })
      .shown_as("TEXT");
  revoking.footer("Examples:\n  lampload keys revoke 'the other boathouse' --reason 'the laptop was stolen'");
}

}  // namespace lampload
