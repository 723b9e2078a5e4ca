"""What a command writes for spreadsheets holds nothing that they would work out."""

import pandas as pd
from pandas.api.types import is_string_dtype

from gradebook.exchange.table import safe_cell


def safe(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with a quote before text that starts like a formula; numbers stay numbers."""
    texts = [name for name in frame.columns if is_string_dtype(frame[name])]
    return frame.assign(**{name: frame[name].map(safe_cell) for name in texts})
