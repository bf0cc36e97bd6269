"""The error tree and its exit codes."""

import inspect
import re

from gridmap import errors


def test_the_tree_in_the_docstring_is_the_tree():
    """Every class stands in the drawing, and every name in the drawing is a class."""
    drawn = set(re.findall(r"\b(\w+(?:Error|Warning))\b", errors.__doc__))
    real = {n for n, c in vars(errors).items() if inspect.isclass(c) and issubclass(c, Exception)}
    assert drawn == real


def test_a_users_mistake_exits_with_2_and_ours_with_3():
    """One exit code a branch."""
    for name, kind in vars(errors).items():
        if inspect.isclass(kind) and issubclass(kind, errors.InputError):
            assert kind.exit_code == 2, name
    assert errors.OurFaultError.exit_code == 3
    assert errors.GridmapError.exit_code == 3
