"""The command, run in this process on a copy of the small invented clinic."""

import json
import shutil
from types import SimpleNamespace

import pytest

from pipeline.cli import main
from pipeline.shipped import folder


@pytest.fixture
def rounds(capsysbinary):
    """rounds('load', '--clinic', ...) -> exit status, what stdout and stderr got, stdout as JSON."""

    def run(*arguments) -> SimpleNamespace:
        status = main([str(argument) for argument in arguments])
        out, err = (text.decode("utf-8") for text in capsysbinary.readouterr())
        return SimpleNamespace(status=status, out=out, err=err, json=lambda: json.loads(out))

    return run


@pytest.fixture
def sample(tmp_path):
    """A copy of sample_data as a clinic folder, in a path with a space, an accent and an apostrophe."""
    clinic = tmp_path / "l'été à la clinique"
    shutil.copytree(folder("sample_data"), clinic)
    return clinic
