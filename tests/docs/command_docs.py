#!/usr/bin/env python3
"""Holds man pages and shell completion to what --help of every command says, and --help to having an example that parses.

command_docs.py WHORL DOCS_FOLDER SOURCE_FOLDER
--help is written by the parser's own formatter, so it is read here as the independent side. The pages are rendered with man (groff),
checked with mandoc, and the completion is run in bash, zsh and fish, each where it is installed.
"""
import glob
import os
import re
import shlex
import shutil
import subprocess
import sys

whorl, docs, source = sys.argv[1:4]
faults = []
seen = []


def fault(text):
    faults.append(text)


def output(*command, **more):
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, stdin=subprocess.DEVNULL, **more)
    return done.returncode, done.stdout, done.stderr


def help_of(*command):
    code, out, err = output(whorl, *command, '--help')
    if code != 0 or err:
        fault(f"whorl {' '.join(command)} --help: exit {code}, {err!r}")
    return out


def options_of(text):
    """Spellings of the options in the left column of --help (descriptions begin further right)."""
    names = set()
    for line in text.splitlines():
        found = re.match(r'^ {1,12}(-[A-Za-z])?,? {0,6}(--[a-z][a-z0-9-]*)?(?=[ ,\n]|$)', line)
        if found:
            names |= {name for name in found.groups() if name}
    return names


def commands_of(text):
    block = re.search(r'^(?:Subcommands|SUBCOMMANDS):\n((?:[ ].*\n|\n)+)', text, re.M)
    return re.findall(r'^  ([a-z][a-z-]*)', block.group(1), re.M) if block else []


def page_options(text):
    names = set()
    for heading in re.findall(r'^\.TP\n(.*)$', text, re.M):
        names |= set(re.findall(r'\\fB(--?[A-Za-z][A-Za-z0-9-]*)\\fR', heading.replace('\\-', '-')))
    return names


main_help = help_of()
commands = commands_of(main_help)
if len(commands) < 5:
    fault(f'--help lists only {commands}')
help_options = {name: options_of(help_of(name)) for name in commands}

# --help of every command has an example whose options exist and whose case files exist
for name in commands:
    # a line that is too wide for the screen goes on four columns in
    examples = re.findall(r'^ +(whorl .*)$', re.sub(r'\n {4,}(?=\S)', ' ', help_of(name).partition('Example:\n')[2]), re.M)
    if not any(example.startswith(f'whorl {name}') for example in examples):
        fault(f'whorl {name} --help has no example of itself')
    for example in examples:
        words = shlex.split(example)
        if words[1] not in commands:
            fault(f'example with an unknown command: {example}')
            continue
        for word in words[2:]:
            if re.match(r'^--?[A-Za-z]', word) and word.split('=')[0] not in help_options[words[1]]:
                fault(f'example with an unknown option {word}: {example}')
            if word.startswith('cases/') and not glob.glob(os.path.join(source, word)):
                fault(f'example with a case that does not exist: {example}')

# Man pages: all of them, no more; the same options; exit codes; an example
wanted = {'whorl.1'} | {f'whorl-{name}.1' for name in commands}
found = set(os.listdir(os.path.join(docs, 'man1')))
if wanted != found:
    fault(f'man pages: missing {sorted(wanted - found)}, too many {sorted(found - wanted)}')
count = 0
for name in [None] + commands:
    page = os.path.join(docs, 'man1', f'whorl-{name}.1' if name else 'whorl.1')
    if not os.path.exists(page):
        continue
    with open(page, encoding='utf-8') as file:
        text = file.read()
    expected = help_options[name] if name else options_of(main_help)
    count += len(expected)
    if page_options(text) != expected:
        fault(f'{page}: options differ from --help: {sorted(page_options(text) ^ expected)}')
    status = text.split('.SH EXIT STATUS')[-1]
    for code in (0, 1, 2, 130):
        if not re.search(rf'^\.TP\n\.B {code}\n\w', status, re.M):
            fault(f'{page}: exit code {code} is not explained')
    if name and '.SH EXAMPLES' not in text:
        fault(f'{page}: no example')
    if not name:
        for each in commands:
            if f'\n.B {each}\n'.replace('-', '\\-') not in text:
                fault(f'{page}: command {each} is missing')
    if shutil.which('man') and shutil.which('groff'):
        code, out, err = output('man', '--warnings=w', '-l', page, env={**os.environ, 'LC_ALL': 'C.UTF-8', 'MANPAGER': 'cat', 'MANWIDTH': '100'})
        if code != 0 or err:
            fault(f'man -l {page}: exit {code}: {err}')
        rendered = re.sub('.\b|\x1b\\[[0-9;]*m', '', out)
        # 2010 is the hyphen of Unicode: an option written with it cannot be copied into a shell
        if '\u2010-' in rendered:
            fault(f'{page}: an option is rendered with a typographic hyphen')
        for option in expected:
            if not re.search(rf'(?<![\w-]){re.escape(option)}(?![\w-])', rendered):
                fault(f'{page}: {option} is not in the rendered page')
    if shutil.which('mandoc'):
        code, out, err = output('mandoc', '-Tlint', '-Wstyle', page)
        # No date on purpose: the same source gives the same bytes.
        lines = [line for line in (out + err).splitlines() if 'missing date' not in line]
        if lines:
            fault('mandoc: ' + '; '.join(lines))
seen.append('man' if shutil.which('man') and shutil.which('groff') else 'no man')
seen.append('mandoc' if shutil.which('mandoc') else 'no mandoc')


def compare(shell, name, got, expected):
    if got != expected:
        fault(f"{shell} completion of whorl {name or ''}: differs from --help: {sorted(got ^ expected)}")


# Completion, by running it. bash is always there.
bash_file = os.path.join(docs, 'bash', 'whorl')


def bash(*words):
    script = f'''compopt() {{ echo "FILES" ; }}
source {shlex.quote(bash_file)}
COMP_WORDS=({' '.join(shlex.quote(w) for w in words)}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
_whorl; printf '%s\\n' "${{COMPREPLY[@]}}"'''
    code, out, err = output('bash', '-c', script)
    if code != 0 or err:
        fault(f'bash completion of {words}: exit {code}: {err}')
    return set(out.split())


compare('bash', '', bash('whorl', ''), set(commands) | options_of(main_help))
compare('bash', '', bash('whorl', 'sw'), {'sweep'})
for name in commands:
    compare('bash', name, bash('whorl', name, '-'), help_options[name])
    compare('bash', name, bash('whorl', name, ''), {'FILES'})
compare('bash', 'sweep --design', bash('whorl', 'sweep', 'x.json', '--design', ''), {'grid', 'latin-hypercube', 'sobol'})

zsh_file = os.path.join(docs, 'zsh', '_whorl')
if shutil.which('zsh'):
    for name in commands:
        script = f'''_arguments() {{ print -l -- "$@"; }}
_describe() {{ print -l -- "${{(P@)2}}"; }}
words=(whorl {name} -); CURRENT=3
source {shlex.quote(zsh_file)}'''
        code, out, err = output('zsh', '-f', '-c', script)
        if code != 0 or err:
            fault(f'zsh completion of {name}: exit {code}: {err}')
        compare('zsh', name, set(re.findall(r'^\*(--?[A-Za-z][a-z0-9-]*)\[', out, re.M)), help_options[name])
    script = f'_describe() {{ print -l -- "${{(P@)2}}"; }}; words=(whorl ""); CURRENT=2; source {shlex.quote(zsh_file)}'
    compare('zsh', '', set(re.findall(r'^([a-z-]+):', output('zsh', '-f', '-c', script)[1], re.M)), set(commands))
seen.append('zsh' if shutil.which('zsh') else 'no zsh')

fish_file = os.path.join(docs, 'fish', 'whorl.fish')
if shutil.which('fish'):
    def fish(line):
        code, out, err = output('fish', '--no-config', '-c', f"source {shlex.quote(fish_file)}; complete -C '{line}'")
        if code != 0 or err:
            fault(f'fish completion of {line}: exit {code}: {err}')
        return {each.split('\t')[0] for each in out.splitlines()}
    compare('fish', '', fish('whorl ') & set(commands), set(commands))
    for name in commands:
        got = fish(f'whorl {name} --') | fish(f'whorl {name} -')
        compare('fish', name, {each for each in got if each in help_options[name] or each.startswith('--')}, help_options[name])
    compare('fish', 'sweep --design', fish('whorl sweep x.json --design '), {'grid', 'latin-hypercube', 'sobol'})
seen.append('fish' if shutil.which('fish') else 'no fish')

print(f"{len(commands)} commands, {count} spellings of options; run with: bash, {', '.join(seen)}")
for each in faults:
    print('FAULT', each)
sys.exit(1 if faults else 0)
