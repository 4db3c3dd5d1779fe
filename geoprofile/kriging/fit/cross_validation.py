"""Leave-one-borehole-out cross-validation of a fitted model."""

from __future__ import annotations

from geoprofile.kriging.covariance.data import CrossValidation
from geoprofile.kriging.fit.folds import refitted
from geoprofile.kriging.fit.large import left_out_nearby
from geoprofile.kriging.fit.validation import validation
from geoprofile.kriging.predict.model import Model
from geoprofile.kriging.predict.predictor import Member, PlumeMember


def cross_validate(model: Model) -> CrossValidation:
    """Each datum predicted from the data of the other boreholes.

    From halves of the boreholes where a member is plume-shaped (the closed form would flatter
    it), or real refits where no halves can be had; else in closed form.

    Parameters
    ----------
    model : Model
        Fitted.

    Returns
    -------
    CrossValidation
        Columns of shape (n,) [log10 unit], coverage and score [-].
    """
    if model.left_out is not None:
        return model.left_out
    parts = []
    by_refit = any(isinstance(member, PlumeMember) for member in model.members)
    for number, (weight, member) in enumerate(zip(model.weights, model.members, strict=True)):
        if isinstance(member, Member) and not by_refit:
            parts.append((weight, *left_out_nearby(member)))
        elif weight:
            parts.append((weight, *refitted(member, model.prior, (model.seed, number))))
    return validation(model.data, parts, refitted=by_refit)
