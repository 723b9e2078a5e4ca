"""Gradient boosting by scikit-learn, which only the test extra installs.

Nothing imports this module by name but the command that has first seen that it can.
"""

import numpy as np
import pandas as pd
from sklearn.ensemble import HistGradientBoostingClassifier

from gradebook.analytics.needle.floats import Flags, Floats
from gradebook.analytics.predictors.history import History, read_history

MOST_CATEGORIES = 255


def boosting(frame: pd.DataFrame, meets: Flags, train: Flags) -> Floats:
    """Gradient-boosted trees on up to thirteen features, fixed settings.

    Features that do not vary among the train rows are left out. Where none or only one outcome
    is left, the rate of the train rows (one half without any) is the forecast.
    """
    features = _features(read_history(frame), meets)
    varied = [at for at in range(features.shape[1]) if _varies(features[train, at])]
    if not varied or not _varies(meets[train].astype(np.float64)):
        return np.full(len(frame), meets[train].mean() if train.any() else 0.5)
    names = [at for at in varied if at < 2 and features[:, at].max() < MOST_CATEGORIES]
    model = HistGradientBoostingClassifier(
        learning_rate=0.05,
        max_iter=150,
        max_leaf_nodes=15,
        min_samples_leaf=20,
        l2_regularization=1.0,
        categorical_features=[varied.index(at) for at in names],
        early_stopping=False,
        random_state=0,
    )
    model.fit(features[train][:, varied], meets[train])
    return np.asarray(model.predict_proba(features[:, varied])[:, 1])


def _varies(column: Floats) -> bool:
    return len(np.unique(column[~np.isnan(column)])) > 1


def _features(history: History, meets: Flags) -> Floats:
    """(rows, 13), nan where there is no earlier lesson or no date."""
    on_task, at_all = history.on_task, history.at_all
    columns = (
        history.task,
        history.instructor,
        history.lesson,
        on_task.count,
        on_task.total(meets),
        on_task.last(history.grade),
        on_task.mean(history.grade, 3),
        on_task.mean(meets, 3),
        history.day - on_task.last(history.day),
        at_all.count,
        at_all.mean(meets, len(meets)),
        at_all.mean(meets, 10),
        history.day - at_all.last(history.day),
    )
    return np.stack([np.asarray(column, dtype=np.float64) for column in columns], axis=1)
