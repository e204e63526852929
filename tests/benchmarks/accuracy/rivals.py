"""What one would use instead: the printed recipe, one's own ratios, a regression on both ratios.

The two ratios are litres of jar filled for each kilogram (whatever the jar) and brine for each
litre filled, in logs. Each is forecast by itself, as one would; the brine range is that of its
ratio times the jars'.
"""

import warnings
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from accuracy.crops import Crop
from accuracy.households import Household, Unseen
from accuracy.worlds import Array, Setting, cure_share

Answers = dict[tuple[int, str], tuple[Array, Array] | None]
Codes = NDArray[np.int64]
# fit(crop of each row, log ratio of each row, crop wanted, generator, draws) -> draws of the log
# ratio, or None where it has too few rows to say anything.
Fit = Callable[[Codes, Array, int, np.random.Generator, int], Array | None]

_PRINTED_LOSS_ML = 150.0
_LEAST_RATIO = 1e-3  # a normal range about a ratio may reach below nothing
_QUANTILES = np.array([0.025, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975])


def printed_draws(
    crop: Crop, setting: Setting, stage: str, weight_g: float, rng: np.random.Generator, draws: int
) -> tuple[Array, Array]:
    """Jars and brine by the published centres, spread as the publications are."""

    def drawn(quantity: str) -> Array:
        return crop.centre[quantity] + crop.spread[quantity] * rng.standard_normal(draws)

    ready = np.full(draws, weight_g)
    for after in setting.stages[setting.stages.index(stage) + 1 :]:
        if after == "trimmed":
            ready = ready / (1.0 + np.exp(-drawn("trim")))
        elif after == "cured":
            ready = ready * np.exp(cure_share(setting.hours) * drawn("cure"))
        else:
            ready = ready * np.exp(drawn("cook"))
    volume = ready / np.exp(drawn("pack"))
    tissue = np.exp(crop.centre["tissue"])
    brine = np.maximum(volume - ready / tissue, 0.05 * volume) + _PRINTED_LOSS_ML
    return volume / setting.fill_ml, brine


def printed(
    household: Household, sizes: Sequence[int], rng: np.random.Generator, draws: int
) -> Answers:
    """The published numbers, whatever the household did before."""
    return {
        (unseen.after, ask): printed_draws(
            household.crops[unseen.crop], unseen.setting, *unseen.known(ask), rng, draws
        )
        for unseen in household.unseen
        if unseen.after in sizes
        for ask in ("ready", "as_bought")
    }


def _rows(household: Household, after: int, ask: str) -> tuple[Codes, Array, Array]:
    """Crop, log litres for each kilogram and log brine for each litre, where recorded."""
    codes, filled, brine = [], [], []
    for i in range(after):
        batch = household.history[i]
        stage = ask if ask == "as_bought" else household.settings[i].stages[-1]
        weight = getattr(batch, f"{stage}_g")
        used = batch.brine_used_ml
        if weight is None:
            continue
        codes.append(household.crop_of[i])
        filled.append(np.log(batch.fill_volume_ml() / weight))
        usable = used is not None and used > 0
        brine.append(np.log((used or 0.0) / batch.fill_volume_ml()) if usable else np.nan)
    return np.array(codes, dtype=np.int64), np.array(filled), np.array(brine)


def ratio_peer(fit: Fit) -> Callable[[Household, Sequence[int], np.random.Generator, int], Answers]:
    """A peer that fits both ratios; the printed numbers stand in where it has too few rows."""

    def peer(
        household: Household, sizes: Sequence[int], rng: np.random.Generator, draws: int
    ) -> Answers:
        answers: Answers = {}
        for unseen in household.unseen:
            if unseen.after in sizes:
                for ask in ("ready", "as_bought"):
                    found = _by_ratios(fit, household, unseen, ask, rng, draws)
                    answers[unseen.after, ask] = found
        return answers

    return peer


def _by_ratios(
    fit: Fit, household: Household, unseen: Unseen, ask: str, rng: np.random.Generator, draws: int
) -> tuple[Array, Array] | None:
    crop, setting = household.crops[unseen.crop], unseen.setting
    stage, weight = unseen.known(ask)
    codes, filled, brine = _rows(household, unseen.after, ask)
    known = np.isfinite(brine)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            found_fill = fit(codes, filled, unseen.crop, rng, draws)
            found_brine = fit(codes[known], brine[known], unseen.crop, rng, draws)
    except (ValueError, ArithmeticError, np.linalg.LinAlgError):
        return None
    jars, brine_ml = printed_draws(crop, setting, stage, weight, rng, draws)
    brine_share = brine_ml / (jars * setting.fill_ml)
    with np.errstate(over="ignore"):
        if found_fill is not None:
            jars = np.exp(found_fill) * weight / setting.fill_ml
        if found_brine is not None:
            brine_share = np.exp(found_brine)
    brine_ml = brine_share * jars * setting.fill_ml
    if not (np.all(np.isfinite(jars)) and np.all(np.isfinite(brine_ml))):
        return None
    return jars, brine_ml


def fit_average(
    codes: Codes, y: Array, crop: int, rng: np.random.Generator, draws: int
) -> Array | None:
    """Average of one's own ratios for that crop, with their spread, from two batches on."""
    own = np.exp(y[codes == crop])
    if len(own) < 2:
        return None
    drawn = own.mean() + own.std(ddof=1) * rng.standard_normal(draws)
    return np.asarray(np.log(np.maximum(drawn, _LEAST_RATIO)))


def _one_hot(codes: Codes, width: int) -> Array:
    return np.eye(width)[codes]


def fit_ridge(
    codes: Codes, y: Array, crop: int, rng: np.random.Generator, draws: int
) -> Array | None:
    """scikit-learn BayesianRidge on the crops, from two batches on."""
    if len(y) < 2:
        return None
    from sklearn.linear_model import BayesianRidge

    width = int(max(codes.max(), crop)) + 1
    model = BayesianRidge().fit(_one_hot(codes, width), y)
    centre, spread = model.predict(_one_hot(np.array([crop]), width), return_std=True)
    return np.asarray(centre[0] + spread[0] * rng.standard_normal(draws))


def fit_quantile(
    codes: Codes, y: Array, crop: int, rng: np.random.Generator, draws: int
) -> Array | None:
    """scikit-learn QuantileRegressor at nine quantiles, straight lines between, from three on."""
    if len(y) < 3:
        return None
    from sklearn.linear_model import QuantileRegressor

    width = int(max(codes.max(), crop)) + 1
    rows, wanted = _one_hot(codes, width), _one_hot(np.array([crop]), width)
    values = [
        QuantileRegressor(quantile=q, alpha=0.01, solver="highs").fit(rows, y).predict(wanted)[0]
        for q in _QUANTILES
    ]
    return np.asarray(np.interp(rng.random(draws), _QUANTILES, np.sort(values)))


def fit_mixed(
    codes: Codes, y: Array, crop: int, rng: np.random.Generator, draws: int
) -> Array | None:
    """statsmodels MixedLM with a random intercept for each crop, from three batches on."""
    if len(y) < 3:
        return None
    from statsmodels.regression.mixed_linear_model import MixedLM  # type: ignore[import-untyped]

    model = MixedLM(y, np.ones((len(y), 1)), groups=codes).fit(reml=True)
    between = float(np.asarray(model.cov_re)[0, 0])
    centre, variance = float(model.fe_params[0]), between
    if crop in model.random_effects:
        centre += float(np.asarray(model.random_effects[crop])[0])
        variance = float(np.asarray(model.random_effects_cov[crop])[0, 0])
    variance += float(model.scale) + float(np.asarray(model.cov_params())[0, 0])
    return np.asarray(centre + np.sqrt(variance) * rng.standard_normal(draws))
