"""Mutation testing: are small faults in the code that measures and judges noticed by its tests?"""
