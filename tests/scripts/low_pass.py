#!/usr/bin/env python3
"""Coefficients of the reducing low-pass by scipy.signal.firwin, an independent oracle (run with scipy 1.10.1).

Prints the values that tests/read_decimator_test.cpp holds the library's coefficients against.
"""
import math

import scipy.signal

for factor in (2, 40):
    stop = 0.5 / factor
    width = 0.2 * stop
    reach = math.ceil((80.0 - 7.95) / (14.36 * width) / 2)
    taps = scipy.signal.firwin(2 * reach + 1, 0.9 * stop, window=("kaiser", 0.1102 * (80.0 - 8.7)), fs=1.0)
    print(factor, len(taps), *(f"{taps[reach + i]:.17g}" for i in (0, 1, 7, reach)))
