#!/bin/sh
# Tell the kernel's probe driver to check each result (a power-up 85 degC becomes an error) and to ask
# the probe when it is ready instead of waiting the longest time. See the w1_therm driver, "features".
for file in /sys/bus/w1/devices/28-*/features; do
    [ -w "$file" ] && echo 3 >"$file"
done
exit 0
