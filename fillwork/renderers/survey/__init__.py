"""The survey: picture and words, what is to mend."""
