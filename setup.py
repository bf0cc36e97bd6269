"""Tells setuptools where the recipes lie: the folder configs/ is installed as the package gridmap.configs."""

from setuptools import find_packages, setup

setup(
    packages=[*find_packages(include=["gridmap", "gridmap.*"]), "gridmap.configs"],
    package_dir={"gridmap.configs": "configs"},
)
