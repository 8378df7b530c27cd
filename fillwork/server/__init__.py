"""The local page's server: the pipeline behind the loopback address.

`security` decides which requests are answered, `store` keeps work on disk,
`work` runs it in the background, `sheet` is one opened drawing, `routes` joins
them to addresses, `serve` starts it all. Nothing here knows how regions, kinds or
colours are found.
"""
