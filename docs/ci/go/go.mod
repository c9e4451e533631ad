module guard

go 1.26
