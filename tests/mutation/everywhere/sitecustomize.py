"""Python reads this first where this folder is on its path: the process starts spoilt."""

from tests.mutation.reading import begin

begin()
