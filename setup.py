"""The packages of ``oxhue``, found in the top-level folders they are built from."""

from setuptools import find_packages, setup

FOLDERS = ("optics", "page", "cli", "nk_data")

setup(
    packages=["oxhue"]
    + [f"oxhue.{name}" for name in FOLDERS]
    + [f"oxhue.{name}.{inner}" for name in FOLDERS for inner in find_packages(name)],
    package_dir={"oxhue": "oxhue"} | {f"oxhue.{name}": name for name in FOLDERS},
)
