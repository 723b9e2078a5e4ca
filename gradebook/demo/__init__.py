"""The demo school: an invented school whose students' lessons are simulated.

Everything is written through the same commands a real school uses, at moments in the past.
"""

from gradebook.demo.loading import SECRET, Account, clear, load

__all__ = ["SECRET", "Account", "clear", "load"]
