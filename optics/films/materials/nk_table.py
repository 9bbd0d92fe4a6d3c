"""One table of optical constants: the data passed about, and the file it is read from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import BoolArray, ComplexArray, FloatArray
from ...errors import InputError, OutOfRangeError, TableError, shorten
from ...numerics.monotone_cubic import MonotoneCubic
from ...result import Result
from ..engine.check import as_numbers

COLUMNS = "wavelength_nm,n,k"
STANDS_FOR = "stands for"
"""Line of the header that says which other material a data set is used for, if any."""
REQUIRED_HEADER = (
    "material", "variant", "kind", "source", "licence", "unit", "range_nm",
    "measured_range_nm", "extension", "confidence",
)  # fmt: skip

_MOST_KEPT, _GRIDS_KEPT = 512, 4  # wavelengths of a grid kept, and grids


@dataclass(frozen=True, eq=False, repr=False)
class Material(Result):
    """Optical constants of one material from one source.

    Attributes
    ----------
    name, variant, phase, kind : str
        For instance ``TiO2``, ``siefke2016``, ``amorphous``, ``oxide``; the phase may be empty.
    wavelength_nm : ndarray, shape (P,)
        Tabulated vacuum wavelengths [nm], rising.
    n, k : ndarray, shape (P,)
        Refractive index and extinction coefficient [-]; ``n + ik`` with ``k >= 0`` absorbing.
    header : mapping
        Where the numbers come from: the header lines of the file.
    """

    name: str
    variant: str
    phase: str
    kind: str
    wavelength_nm: FloatArray
    n: FloatArray
    k: FloatArray
    header: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse, wherever the numbers come from, what no table of a file may hold."""
        columns = [as_numbers(getattr(self, one), one) for one in ("wavelength_nm", "n", "k")]
        if columns[0].ndim != 1 or len({one.shape for one in columns}) > 1:
            shapes = ", ".join(str(one.shape) for one in columns)
            raise InputError(
                f"`wavelength_nm`, `n` and `k` of {self.label} have the shapes {shapes}; they need "
                f"one value each for every wavelength"
            )
        check_columns(np.column_stack(columns), self.label)

    @classmethod
    def from_arrays(
        cls, wavelength_nm: ArrayLike, n: ArrayLike, k: ArrayLike = 0.0, *, name: str
    ) -> Material:
        """Optical constants of one's own.

        Parameters
        ----------
        wavelength_nm : array_like, shape (P,)
            Vacuum wavelengths [nm], rising, at least two.
        n, k : array_like, shape (P,) or ()
            Index and extinction coefficient [-]; k is 0 or above.
        name : str

        Raises
        ------
        InputError, TableError
            If a value is no number, lengths differ, wavelengths do not rise, n is not above 0 or k
            is below 0.

        Examples
        --------
        >>> Material.from_arrays([400.0, 700.0], [2.0, 1.9], name="mine").nk(550.0).round(6)
        np.complex128(1.95+0j)
        """
        columns = [
            as_numbers(values, parameter)
            for values, parameter in ((wavelength_nm, "wavelength_nm"), (n, "n"), (k, "k"))
        ]
        if not isinstance(name, str) or not name.strip():
            raise InputError(f"`name` must be text, not {name!r:.40}", parameter="name")
        for values, parameter in zip(columns[1:], "nk", strict=True):
            if columns[0].ndim != 1 or values.shape not in ((), columns[0].shape):
                raise InputError(
                    f"`{parameter}` has shape {values.shape}; it needs one value for each of the "
                    f"{columns[0].size} wavelengths",
                    parameter=parameter,
                )
        rows = np.column_stack([np.broadcast_to(one, columns[0].shape) for one in columns])
        table = check_columns([tuple(row) for row in rows], name)
        return cls(name, "", "", "user", *table, {"source": "given as arrays"})

    @property
    def label(self) -> str:
        """Name and data set, as accepted back by name: ``TiO2(siefke2016)``."""
        return f"{self.name}({self.variant})" if self.variant else self.name

    @property
    def range_nm(self) -> tuple[float, float]:
        """First and last tabulated wavelength [nm]."""
        return float(self.wavelength_nm[0]), float(self.wavelength_nm[-1])

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex refractive index ``n + ik``.

        Parameters
        ----------
        wavelength_nm : array_like, shape (...)
            Vacuum wavelength [nm] within ``range_nm``.

        Returns
        -------
        ndarray of complex, shape (...)
            Monotone piecewise cubic in wavelength through the tabulated n and, apart from it, k
            [1]_: no overshoot between points, so k is never negative.

        Raises
        ------
        OutOfRangeError
            If any wavelength is NaN or outside the table. Nothing is extrapolated.

        References
        ----------
        .. [1] F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984),
           doi:10.1137/0905021.
        """
        wavelength = np.asarray(wavelength_nm, dtype=float)
        if not 1 < wavelength.size <= _MOST_KEPT:
            return self._interpolate(wavelength)
        grid = wavelength.shape, wavelength.tobytes()
        if grid not in self._kept:
            if len(self._kept) >= _GRIDS_KEPT:
                self._kept.clear()
            self._kept[grid] = self._interpolate(wavelength)
        return self._kept[grid].copy()

    @cached_property
    def _kept(self) -> dict[tuple[tuple[int, ...], bytes], ComplexArray]:
        """Index on the grids last asked for: the same few are, of every stack."""
        return {}

    def _interpolate(self, wavelength: FloatArray) -> ComplexArray:
        low, high = self.range_nm
        bad = ~((wavelength >= low) & (wavelength <= high))  # NaN counts as bad
        if bad.any():
            raise OutOfRangeError(
                f"wavelength_nm must lie between {low:g} and {high:g} nm for {self.label}; "
                f"{bad.sum()} of {wavelength.size} values do not, first "
                f"{float(wavelength[bad].flat[0]):g}"
            )
        both = self._through_points(wavelength)
        index = np.empty(wavelength.shape, dtype=np.complex128)
        index.real = both[..., 0]
        index.imag = np.maximum(both[..., 1], 0.0)  # rounding may leave -1e-20
        return index

    @cached_property
    def _through_points(self) -> MonotoneCubic:
        return MonotoneCubic.through(self.wavelength_nm, np.column_stack([self.n, self.k]))


def parse_table(lines: Iterable[str], where: str) -> Material:
    """Read a data set in the project's own file format.

    Parameters
    ----------
    lines : iterable of str
        ``# key: value`` lines, the row ``wavelength_nm,n,k``, then numbers.
    where : str
        The file's name, for messages.

    Returns
    -------
    Material

    Raises
    ------
    TableError
        If the provenance is incomplete or the numbers break a rule: wavelengths strictly
        rising and positive, ``n > 0``, ``k >= 0``, all finite, at least two rows, the first
        and last row as the header's ``range_nm`` says.
    """
    header: dict[str, str] = {}
    rows: list[tuple[float, ...]] = []
    seen_columns = False
    for number, line in enumerate(lines, start=1):
        text = line.strip()
        if text.startswith("#"):
            key, _, value = text[1:].partition(":")
            header[key.strip()] = value.strip()
        elif not seen_columns:
            _check_columns(text, where, number)
            seen_columns = True
        elif text:
            rows.append(_row(text, where, number))
    _check_header(header, where)
    wavelength_nm, n, k = check_columns(rows, where)
    _check_range(header, wavelength_nm, where)
    phase = header.get("phase", "none")
    return Material(
        header["material"], header["variant"], "" if phase == "none" else phase,
        header["kind"], wavelength_nm, n, k, header,
    )  # fmt: skip


def check_columns(
    rows: list[tuple[float, ...]] | FloatArray, where: str
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Wavelength [nm], n and k as read-only arrays of shape (P,), or a ``TableError``."""
    if len(rows) < 2:
        raise TableError(f"{where} has {len(rows)} rows of numbers; a table needs at least two")
    table = np.array(rows, dtype=float)
    table.setflags(write=False)
    wavelength_nm, n, k = table[:, 0], table[:, 1], table[:, 2]
    rules: tuple[tuple[str, BoolArray], ...] = (
        ("every number must be finite", np.isfinite(table).all(axis=1)),
        ("wavelengths must be positive", wavelength_nm > 0),
        ("wavelengths must rise strictly", np.diff(wavelength_nm, prepend=0.0) > 0),
        ("n must be above 0", n > 0),
        ("k must not be negative", k >= 0),
    )
    for rule, kept in rules:
        if not kept.all():
            first = int(np.argmin(kept))
            shown = ", ".join(f"{value:g}" for value in table[first])
            raise TableError(f"{where}: {rule}, but row {first + 1} of the numbers is {shown}")
    return wavelength_nm, n, k


def _check_columns(text: str, where: str, number: int) -> None:
    if text.replace(" ", "") != COLUMNS:
        raise TableError(
            f"{where} line {number}: expected the column row {COLUMNS!r}, got {shorten(text)!r}"
        )


def _row(text: str, where: str, number: int) -> tuple[float, ...]:
    try:
        wavelength, n, k = map(float, text.split(","))
    except ValueError:
        raise TableError(
            f"{where} line {number}: expected three numbers, got {shorten(text)!r}"
        ) from None
    return wavelength, n, k


def _check_header(header: Mapping[str, str], where: str) -> None:
    missing = [key for key in REQUIRED_HEADER if not header.get(key)]
    if missing:
        raise TableError(f"{where} does not say where it comes from: {', '.join(missing)} missing")
    if header["unit"] != "nm":
        raise TableError(f"{where}: unit must be nm, got {shorten(header['unit'])!r}")


def _check_range(header: Mapping[str, str], wavelength_nm: FloatArray, where: str) -> None:
    low, high = parse_span(header["range_nm"], where)
    if not np.allclose([low, high], wavelength_nm[[0, -1]], rtol=1e-9, atol=0):
        raise TableError(
            f"{where}: range_nm says {low:g}-{high:g}, but the rows run from "
            f"{wavelength_nm[0]:g} to {wavelength_nm[-1]:g} nm"
        )


def parse_span(text: str, where: str) -> tuple[float, float]:
    """Both ends of a range written ``low-high``, in nm."""
    low, _, high = text.partition("-")
    try:
        return float(low), float(high)
    except ValueError:
        raise TableError(f"{where}: a range is written low-high, got {text!r:.80}") from None
