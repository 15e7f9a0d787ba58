"""Builds cutting jobs for tests from short lines."""

from decimal import Decimal

from catalogue.calc.cutting.planning import CuttingJob, PieceKind, SheetKind


def sheet(name="card", width="12", height="12", price="1", available=None, trim="0"):
    return SheetKind(
        name, Decimal(width), Decimal(height), Decimal(price), available, Decimal(trim)
    )


def piece(name, width, height, count=1, *, may_turn=False, on=None):
    return PieceKind(name, Decimal(width), Decimal(height), count, may_turn, on)


def job(sheets, pieces, *, gap="0", rounds=3, time_limit_s=5.0):
    return CuttingJob(tuple(sheets), tuple(pieces), Decimal(gap), rounds, time_limit_s)
