"""What a batch's page and its printed record say, as plain data; pure but for `sources`."""
