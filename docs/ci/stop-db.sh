#!/bin/sh
# What stops the database: in the test the one of the scenario, on site perhaps
# ssh db systemctl poweroff
exec ridethrough send 'host = "db"
order = "stop"'
