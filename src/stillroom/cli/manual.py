"""`completion` and `manual`: made from the parser by libraries that are loaded only here."""

from argparse import ArgumentParser

from stillroom import __version__
from stillroom.cli.call import Call, Command
from stillroom.cli.output import put_as_it_is

SHELLS = ("bash", "zsh", "fish")
COMPLETION_NOTES = """\
To have it in every new shell:
  bash: stillroom completion bash > ~/.local/share/bash-completion/completions/stillroom
  zsh:  stillroom completion zsh > a folder of $fpath, under the name _stillroom
  fish: stillroom completion fish > ~/.config/fish/completions/stillroom.fish"""
MANUAL_NOTES = """\
To read it: stillroom manual | man -l -
To keep it: stillroom manual > ~/.local/share/man/man1/stillroom.1"""


def _completion_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help="bash, zsh or fish")


def _completion(call: Call) -> int:
    import shtab

    from stillroom.cli.parser import whole_parser

    put_as_it_is(shtab.complete(whole_parser(), shell=call.asked.shell))
    return 0


def _no_arguments(parser: ArgumentParser) -> None:
    pass


def _manual(call: Call) -> int:
    from argparse_manpage.manpage import Manpage

    from stillroom.cli.parser import whole_parser

    page = Manpage(whole_parser(), format="single-commands-section")
    page.date = f"{call.clock.today()}"
    page.source = f"Stillroom {__version__}"
    page.manual = "User commands"
    page.description = "keep the records of a shelf of herbal tinctures"
    put_as_it_is(str(page))
    return 0


COMMANDS = {
    "completion": Command(_completion_arguments, _completion, COMPLETION_NOTES),
    "manual": Command(_no_arguments, _manual, MANUAL_NOTES),
}
