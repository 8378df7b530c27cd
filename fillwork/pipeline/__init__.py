"""The stages joined: from a file to the survey, and from there to the finish.

`taking` reads what a plan names, `surveying` goes to the kinds, `painting` to the
colours, `finish` holds the result and makes each output from it,
`output` writes files whole. Nothing here knows click or Flask.
"""
