"""Settings that no site needs, five hundred of them: each taken with sense or refused in words.

`pytest -m calibration tests/faults/test_absurd_settings_in_process.py`; ABSURD says how many. Each
command runs in a fork with at most 1 GiB more memory and 60 s of processor time.
"""

from __future__ import annotations

import itertools
import os
import random
import resource
import shutil
import sys
import traceback
from collections import Counter
from pathlib import Path

import pytest
from faults_states import digests

from geoprofile.plugins.registry import plugins

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no fork")
HOW_MANY = int(os.environ.get("ABSURD", "500"))
GIB, CPU_S = 1 << 30, 60
WORDS = {  # the command that computes a layer; another setting is told to the last of them
    "map": ("map_band", "plume_extent", "plume_change", "head_contour", "transmissivity_band"),
    "section": ("section",),
    "discharge": ("discharge", "flow", "head"),
    "interpolate": ("model", "concentration", "geology", "consistency"),
    "advise": ("next_borehole", "next_test"),
}
NUMBERS = ("NaN", "-inf", "Infinity", "1e300", "-1", "0", "1e-9", "1000000000", "0.5", "1e-300")
LISTS = ("[NaN]", "[1e300]", "[]", "[[1]]", "[0]", "['']", str(list(range(3000))), "[-1e9]")
TEXTS = ("", "'", "nowhere", "9" * 5000, "[", "\u202e", "none\x00", "{}", "true")


def every_case():
    """Layer, setting and value: of the setting's own kind twice as often as of another."""
    for layer, one in plugins("layers").items():
        for setting in one.settings:
            own = LISTS if isinstance(setting.default, list | tuple) else NUMBERS
            own = TEXTS if isinstance(setting.default, str) else own
            others = [x for kind in (NUMBERS, LISTS, TEXTS) for x in kind[:3]]
            for value in dict.fromkeys((*own, *others)):
                yield layer, f"{layer}.{setting.name}={value}"


def word_of(layer):
    """The command that computes it."""
    return next((word for word, layers in WORDS.items() if layer in layers), "advise")


def in_fork(words, folder, said):
    """Exit code of a command in a fork of this process with little memory and time."""
    pid = os.fork()
    if pid:
        _, status, used = os.wait4(pid, 0)
        return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime
    code = 70
    try:
        os.chdir(folder)
        out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        sys.stdout, sys.stderr = open(1, "w", closefd=False), open(2, "w", closefd=False)  # noqa: SIM115
        held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (held + GIB, held + GIB))
        resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
        sys.argv = ["geoprofile", *words]
        from geoprofile.cli import main

        code = 0
        main()
    except SystemExit as leaving:
        code = int(leaving.code or 0)
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stderr.flush()
        os._exit(code)


def warmed(site, folder, monkeypatch):
    """Everything imported and compiled in this process, so that no fork pays for it again."""
    folder.mkdir()
    shutil.copy(site, folder)
    monkeypatch.chdir(folder)
    from geoprofile.cli import main

    for word in WORDS:
        monkeypatch.setattr(sys, "argv", ["geoprofile", word, "site.gpkg", "--again"])
        main()


@pytest.mark.calibration
@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc")
def test_absurd_settings_are_taken_or_refused_in_words(computed, tmp_path, monkeypatch):
    """Exit 0 with a sound file, or 1 or 2 with one sentence and nothing changed."""
    warmed(computed / "site.gpkg", tmp_path / "warmed", monkeypatch)
    chosen = random.Random(11).sample(list(every_case()), HOW_MANY)
    answers, amiss, longest = Counter(), [], 0.0
    before = digests(computed / "site.gpkg")
    for number, (layer, assignment) in enumerate(chosen):
        folder = tmp_path / "site"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        path = Path(shutil.copy(computed / "site.gpkg", folder))
        words = (word_of(layer), "site.gpkg", "--set", assignment.replace("\x00", "\\0"))
        code, seconds = in_fork(words, folder, tmp_path / "said")
        said = (tmp_path / "said").read_text(errors="replace")
        longest = max(longest, seconds)
        answers[word_of(layer), code] += 1
        is_one_sentence = said.count("error: ") == 1 and "Traceback" not in said
        is_well = code == 0 or (code in (1, 2) and is_one_sentence and digests(path) == before)
        if not is_well or "less than the work takes" in said or len(said) > 20_000:
            amiss.append((assignment[:80], code, f"{seconds:.1f} s", said[-400:]))
        if number % 20 == 0:
            print(number, dict(answers), f"longest {longest:.1f} s", amiss, flush=True)
    print(dict(answers), f"longest {longest:.1f} s")
    assert amiss == []


def test_every_layer_has_absurd_values_of_every_kind():
    """More than five hundred to choose from, and a command for each layer with settings."""
    cases = list(every_case())
    assert len(cases) >= 500
    layers = {layer for layer, _ in cases}
    assert layers <= set(plugins("layers"))
    named = set(itertools.chain(*WORDS.values()))
    assert named <= set(plugins("layers"))
