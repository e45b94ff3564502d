#include "cli/shell_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>

namespace lampload {
namespace {

/// What may stand for a value: "lamps", "channels", "files", "channels files", or fixed words behind "words "; else
/// nothing is offered.
std::string kind_of(const DescribedCommand& command, const std::string& path, const DescribedOption& option) {
  const std::string& name = option.names.back();
  if (name == "lamp" && command.name != "characterise" && command.name != "import") return "lamps";
  if (name == "--lamp") return "lamps";
  if (option.value == "NAME|FILE") return "channels files";
  if (path.starts_with("channels ") && name == "name") return "channels";
  if (option.value.find("FILE") != std::string::npos || option.value.find("CAPTURE") != std::string::npos)
    return "files";
  // "yes|no|unknown": the words themselves
  const bool words = option.value.find('|') != std::string::npos &&
                     std::all_of(option.value.begin(), option.value.end(),
                                 [](char c) { return (c >= 'a' && c <= 'z') || c == '|' || c == '_' || c == '-'; });
  if (!words) return "";
  std::string text = "words " + option.value;
  std::replace(text.begin(), text.end(), '|', ' ');
  return text;
}

/// Every command with its words, such as "channels add"; the program itself has none.
void for_each_command(const DescribedCommand& command, const std::string& path,
                      const std::function<void(const DescribedCommand&, const std::string&)>& use) {
  use(command, path);
  for (const DescribedCommand& below : command.commands) {
    for_each_command(below, path.empty() ? below.name : path + " " + below.name, use);
  }
}

std::string joined(const std::vector<std::string>& words, const char* between) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : between) + word;
  return text;
}

/// In single quotes of a shell.
std::string quoted(const std::string& text) {
  std::string safe = "'";
  for (const char c : text) safe += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return safe + "'";
}

/// "PATH OPTION) kind=...;;" for all that take a value, and "PATH ARGUMENT" as "PATH -".
std::string kinds(const DescribedCommand& program) {
  std::string text;
  for_each_command(program, "", [&](const DescribedCommand& command, const std::string& path) {
    for (const DescribedOption& option : command.options) {
      if (option.value.empty()) continue;
      std::vector<std::string> patterns;
      if (option.argument()) patterns.push_back(fmt::format("'{} -'", path));
      if (!option.argument()) {
        for (const std::string& name : option.names) patterns.push_back(fmt::format("'{} {}'", path, name));
      }
      // of several arguments the first is what is offered
      text += fmt::format("    {}) kind={} ;;\n", joined(patterns, "|"), quoted(kind_of(command, path, option)));
    }
  });
  return text;
}

std::string command_patterns(const DescribedCommand& program) {
  std::string text;
  for_each_command(program, "", [&](const DescribedCommand& /*command*/, const std::string& path) {
    if (!path.empty()) text += (text.empty() ? "'" : "|'") + path + "'";
  });
  return text;
}

constexpr const char* made = "# Made by 'lampload completion' from the program's own description.\n";

std::string troff(const std::string& text) {
  std::string safe;
  bool begins = true;
  for (const char c : text) {
    if (begins && (c == '.' || c == '\'')) safe += "\\&";
    if (c == '\\')
      safe += "\\e";
    else if (c == '-')
      safe += "\\-";
    else if (c == '\'')
      safe += "\\(aq";
    else
      safe += c;
    begins = c == '\n';
  }
  return safe;
}

std::string footer_in_troff(const std::string& footer) {
  return footer.empty() ? "" : ".nf\n" + troff(footer) + "\n.fi\n";
}

}  // namespace

std::string bash_completion(const DescribedCommand& program) {
  std::string text = made;
  text +=
      "_lampload() {\n  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} path= kind= words= word "
      "library=()\n"
      "  local i\n  for ((i = 1; i < COMP_CWORD; i++)); do\n    word=${COMP_WORDS[i]}\n"
      "    [[ $word == --library ]] && library=(--library \"$(eval \"printf %s ${COMP_WORDS[i+1]}\" 2> /dev/null)\")\n"
      "    case \"${path:+$path }$word\" in\n      " +
      command_patterns(program) + ") path=\"${path:+$path }$word\" ;;\n    esac\n  done\n  case \"$path $prev\" in\n" +
      kinds(program) + "    *) case \"$path -\" in\n" + kinds(program) +
      "    esac\n"
      "      case $path in\n";
  for_each_command(program, "", [&](const DescribedCommand& command, const std::string& path) {
    std::vector<std::string> words;
    for (const DescribedCommand& below : command.commands) words.push_back(below.name);
    std::vector<std::string> options;
    for (const DescribedOption& option : command.options) {
      if (!option.argument()) options.push_back(option.names.back());
    }
    text += fmt::format("        '{}') words='{}'; [[ $cur == -* ]] && words='{}' kind= ;;\n", path, joined(words, " "),
                        joined(options, " "));
  });
  text +=
      "      esac ;;\n  esac\n  COMPREPLY=()\n"
      "  local plain=${cur#[\\'\\\"]}\n  plain=${plain//\\\\/}\n"
      "  for word in $kind; do\n    case $word in\n"
      "      lamps|channels)\n        while IFS= read -r word; do\n"
      "          [[ $word == \"$plain\"* ]] && COMPREPLY+=(\"$(printf %q \"$word\")\")\n"
      "        done < <(lampload names \"$word\" \"${library[@]}\" 2> /dev/null) ;;\n"
      "      files) while IFS= read -r word; do COMPREPLY+=(\"$word\"); done < <(compgen -f -- \"$cur\"); compopt -o "
      "filenames 2> /dev/null ;;\n"
      "      words) words=${kind#words } ;;\n    esac\n  done\n"
      "  [[ -n $words ]] && while IFS= read -r word; do COMPREPLY+=(\"$word\"); done < <(compgen -W \"$words\" -- "
      "\"$cur\")\n"
      "  return 0\n}\ncomplete -F _lampload lampload\n";
  return text;
}

std::string zsh_completion(const DescribedCommand& program) {
  std::string text = fmt::format("#compdef lampload\n{}", made);
  text +=
      "_lampload() {\n  local lamppath= kind= word\n  local -a library found options commands\n  local -i i\n"
      "  for ((i = 2; i < CURRENT; i++)); do\n    word=${words[i]}\n"
      "    [[ $word == --library ]] && library=(--library \"${(Q)words[i+1]}\")\n"
      "    case \"${lamppath:+$lamppath }$word\" in\n      " +
      command_patterns(program) +
      ") lamppath=\"${lamppath:+$lamppath }$word\" ;;\n    esac\n  done\n  case \"$lamppath ${words[CURRENT-1]}\" "
      "in\n" +
      kinds(program) + "    *) case \"$lamppath -\" in\n" + kinds(program) + "    esac\n      case $lamppath in\n";
  const auto entry = [](const std::string& name, const std::string& meaning) {
    std::string safe = meaning;
    for (std::size_t at = 0; (at = safe.find(':', at)) != std::string::npos; at += 2) safe.insert(at, "\\");
    return " " + quoted(name + ":" + safe);
  };
  for_each_command(program, "", [&](const DescribedCommand& command, const std::string& path) {
    std::string words;
    for (const DescribedCommand& below : command.commands) words += entry(below.name, below.meaning);
    std::string options;
    for (const DescribedOption& option : command.options) {
      if (!option.argument()) options += entry(option.names.back(), option.meaning);
    }
    text += fmt::format("        '{}') commands=({}); [[ $PREFIX == -* ]] && options=({}) kind= ;;\n", path, words,
                        options);
  });
  text +=
      "      esac ;;\n  esac\n"
      "  for word in ${=kind}; do\n    case $word in\n"
      "      lamps|channels) found=(\"${(@f)$(lampload names $word $library 2> /dev/null)}\"); compadd -- ${found:#} "
      ";;\n"
      "      files) _files ;;\n      words) compadd -- ${=${kind#words }} ;;\n    esac\n  done\n"
      "  (( $#commands )) && _describe command commands\n  (( $#options )) && _describe option options\n  return 0\n}\n"
      "if [[ $zsh_eval_context[-1] == loadautofunc ]]; then _lampload \"$@\"; else compdef _lampload lampload; fi\n";
  return text;
}

std::string fish_completion(const DescribedCommand& program) {
  std::string text = made;
  text +=
      "function __lampload_names\n  set -l words (commandline -opc)\n  set -l library\n  if set -l at (contains -i -- "
      "--library $words)\n"
      "    set library --library $words[(math $at + 1)]\n  end\n  lampload names $argv[1] $library 2>/dev/null\nend\n"
      "function __lampload_at\n  set -l path\n  for word in (commandline -opc)[2..-1]\n    switch (string join ' ' -- "
      "$path $word)\n      case " +
      [&] {
        std::string list = command_patterns(program);
        for (std::size_t at = 0; (at = list.find('|', at)) != std::string::npos;) list.replace(at, 1, " ");
        return list;
      }() +
      "\n        set path $path $word\n    end\n  end\n  test \"$path\" = \"$argv[1]\"\nend\n"
      "complete -c lampload -f\n";
  for_each_command(program, "", [&](const DescribedCommand& command, const std::string& path) {
    const std::string at = fmt::format("complete -c lampload -n {}", quoted("__lampload_at " + quoted(path)));
    for (const DescribedCommand& below : command.commands) {
      text += fmt::format("{} -a {} -d {}\n", at, below.name, quoted(below.meaning));
    }
    for (const DescribedOption& option : command.options) {
      std::string line = at;
      for (const std::string& name : option.names) {
        if (name.starts_with("--"))
          line += " -l " + name.substr(2);
        else if (name.starts_with("-"))
          line += " -s " + name.substr(1);
      }
      const std::string kind = kind_of(command, path, option);
      if (option.argument() && kind.empty()) continue;
      if (!option.argument() && !option.value.empty()) line += " -r";
      if (kind.find("files") != std::string::npos) line += " -F";
      if (kind.starts_with("lamps")) line += " -a '(__lampload_names lamps)'";
      if (kind.starts_with("channels")) line += " -a '(__lampload_names channels)'";
      if (kind.starts_with("words ")) line += " -a " + quoted(kind.substr(6));
      if (!option.argument()) line += " -d " + quoted(option.meaning);
      text += line + "\n";
    }
  });
  return text;
}

std::string manual_page(const DescribedCommand& program, const std::string& version) {
  std::string text =
      fmt::format(".TH LAMPLOAD 1 \"\" \"lampload {}\"\n.SH NAME\nlampload \\- {}\n", version, troff(program.meaning));
  text += ".SH SYNOPSIS\n.B lampload\n.I command\n.RI [ argument \" ...] [\" option \" ...]\"\n";
  text += ".SH DESCRIPTION\n" + footer_in_troff(program.footer) + ".SH COMMANDS\n";
  for_each_command(program, "", [&](const DescribedCommand& command, const std::string& path) {
    if (path.empty()) return;
    std::string arguments;
    for (const DescribedOption& option : command.options) {
      if (option.argument()) arguments += " " + option.value;
    }
    text += fmt::format(".SS \"lampload {}{}\"\n{}.\n", troff(path), troff(arguments), troff(command.meaning));
    for (const DescribedOption& option : command.options) {
      const std::string value = option.value.empty() || option.argument() ? "" : " " + option.value;
      text +=
          fmt::format(".TP\n.B {}\n{}\n", troff(option.argument() ? option.value : joined(option.names, ", ") + value),
                      troff(option.meaning));
    }
    if (!command.footer.empty()) text += ".PP\n" + footer_in_troff(command.footer);
  });
  return text;
}

}  // namespace lampload
